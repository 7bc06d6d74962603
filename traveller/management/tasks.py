"""What is done by the clock: once an hour, whoever asks for it."""

from __future__ import annotations

from datetime import UTC, datetime

from django.utils import timezone
from django_tasks import task

from traveller.batches.tasks import read_waiting
from traveller.journal.background import enqueue, enqueue_once
from traveller.management.work.sweep import prune, sweep


@task(queue_name="quick")
def tidy(at: str | None = None) -> str:
    """Give what dead workers had taken to the next, forget what was done long ago, ask anew for files that wait."""
    now = datetime.fromisoformat(at) if at else timezone.now()
    freed, gone = sweep(now), prune(now)
    enqueue(read_waiting, now=now)
    return f"{freed} given to the next, {gone} forgotten"


def ask_by_the_clock(now: datetime) -> None:
    """Every hour's tasks, each asked for once however many workers there are."""
    enqueue_once(tidy, f"tidy {now.astimezone(UTC):%Y-%m-%dT%H}", now=now)
