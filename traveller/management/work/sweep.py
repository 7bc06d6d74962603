"""What a worker had taken and will never finish is given to the next one."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import Q
from django_tasks.base import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from traveller.batches.files.turns import let_turn_go, spent, waiting
from traveller.batches.tasks import read_waiting
from traveller.journal.background import enqueue
from traveller.management.work.alive import is_gone

# How long a task of each lane may take at the most.
TASK_LIMITS = {"quick": timedelta(minutes=2), "slow": timedelta(minutes=10)}
TIMES_MOST = 5
KEPT = timedelta(days=2)
_OPEN = (TaskResultStatus.READY, TaskResultStatus.RUNNING)


def sweep(now: datetime) -> int:
    """Free the tasks of dead workers of this machine, and those older than twice their limit; how many that were.

    Every task is safe to be done twice. One that has brought down five workers is left as failed, to be looked at.
    """
    # Files before tasks: a task that is free is taken within a breath, and must find its file free.
    let_turn_go(is_gone)
    freed = 0
    for row in DBTaskResult.objects.running():
        worker = row.worker_ids[-1] if row.worker_ids else ""
        late = row.started_at is not None and now - row.started_at > 2 * TASK_LIMITS.get(row.queue_name, KEPT)
        if not (is_gone(worker) or late):
            continue
        spent = len(row.worker_ids) >= TIMES_MOST
        mine = DBTaskResult.objects.filter(pk=row.pk, status=TaskResultStatus.RUNNING, started_at=row.started_at)
        if spent:
            mine.update(status=TaskResultStatus.FAILED, finished_at=now, traceback="Its worker ended five times.")
        else:
            freed += mine.update(status=TaskResultStatus.READY, started_at=None)
    return freed


def look_after(now: datetime) -> None:
    """Sweep, and ask anew for files that wait though no task is there that would read them."""
    sweep(now)
    asked = DBTaskResult.objects.filter(queue_name="quick", status__in=_OPEN).exists()
    if not asked and (waiting().exists() or spent(now)):
        enqueue(read_waiting, now=now)


def prune(now: datetime) -> int:
    """Tasks that were done days ago are forgotten; failed ones are kept as long, to be looked at."""
    old = Q(finished_at__lt=now - KEPT)
    return DBTaskResult.objects.finished().filter(old).delete()[0]
