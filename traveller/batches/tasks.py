"""Work behind the pages: files that were sent are read one by one, in turns."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.utils import timezone
from django_tasks import TaskContext, task

from traveller.batches.actions.read_file import finish_reading
from traveller.batches.files.decoded import asked_for
from traveller.batches.files.stored import content_of
from traveller.batches.files.turns import READ_TRIES_MAX, free, give_back, spent, take_next, waiting
from traveller.decode import Undecoded, decode
from traveller.journal.background import enqueue


@task(queue_name="quick", takes_context=True)
def read_next(context: TaskContext, at: str | None = None) -> str:
    """Read the file whose turn it is; one task was asked for by each file, and each reads one.

    Decoded outside of any transaction, so that nobody waits for it. `at`: the moment, where it is told.
    """
    now = datetime.fromisoformat(at) if at else timezone.now()
    reading = take_next(now=now, worker=context.task_result.worker_ids[-1])
    if reading is None:
        return "nothing waits"
    content = content_of(reading.file_id)
    outcome = decode(reading.kind, [content], asked_for(reading), place=settings.DECODE_PLACE)
    if isinstance(outcome, Undecoded) and outcome.why == "busy":
        give_back(reading)
        enqueue(read_next, now=now)
        return "no place was free"
    if isinstance(outcome, Undecoded) and outcome.why == "ended" and reading.tries < READ_TRIES_MAX:
        free(reading)
        enqueue(read_next, now=now)
        return "ended from outside; read again"
    finish_reading(reading_id=reading.pk, outcome=outcome, now=now if at else timezone.now())
    return f"{reading.kind} {reading.file_id[:12]}: {outcome.why if isinstance(outcome, Undecoded) else 'read'}"


@task(queue_name="quick")
def read_waiting(at: str | None = None) -> str:
    """Ask anew for every file that waits: what was asked for may have gone with the worker that had taken it.

    One whose readers were ended three times is said to be unread, so that nobody waits for it for ever.
    """
    now = datetime.fromisoformat(at) if at else timezone.now()
    for pk in spent(now):
        finish_reading(reading_id=pk, outcome=Undecoded("ended"), now=now)
    count = waiting().count()
    for _ in range(count):
        enqueue(read_next, now=now)
    return f"{count} wait"
