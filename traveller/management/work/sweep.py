"""What a worker had taken and will never finish is given to the next one."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import Q
from django_tasks.base import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from traveller.batches.reading_turns import let_go
from traveller.management.work.alive import is_gone

# How long a task of each lane may take at the most.
LIMITS = {"quick": timedelta(minutes=2), "slow": timedelta(minutes=10)}
TIMES_MOST = 5
KEPT = timedelta(days=2)


def sweep(now: datetime) -> int:
    """Free the tasks of dead workers of this machine, and those older than twice their limit; how many that were.

    Every task is safe to be done twice. One that has brought down five workers is left as failed, to be looked at.
    """
    freed = 0
    for row in DBTaskResult.objects.running():
        worker = row.worker_ids[-1] if row.worker_ids else ""
        late = row.started_at is not None and now - row.started_at > 2 * LIMITS.get(row.queue_name, KEPT)
        if not (is_gone(worker) or late):
            continue
        spent = len(row.worker_ids) >= TIMES_MOST
        mine = DBTaskResult.objects.filter(pk=row.pk, status=TaskResultStatus.RUNNING, started_at=row.started_at)
        if spent:
            mine.update(status=TaskResultStatus.FAILED, finished_at=now, traceback="Its worker ended five times.")
        else:
            freed += mine.update(status=TaskResultStatus.READY, started_at=None)
    let_go(is_gone)
    return freed


def prune(now: datetime) -> int:
    """Tasks that were done days ago are forgotten; failed ones are kept as long, to be looked at."""
    old = Q(finished_at__lt=now - KEPT)
    return DBTaskResult.objects.finished().filter(old).delete()[0]
