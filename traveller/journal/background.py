"""Work that follows from news and need not be waited for: asked for in the same transaction, done by `manage.py work`.

A room's own work stands in its `tasks.py`. Every task may be done twice with the same outcome, since a worker may be
killed between doing it and saying so.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4, uuid5

from django.conf import settings
from django.db import IntegrityError, transaction
from django_tasks.base import Task, TaskResultStatus

__all__ = ["at_once", "enqueue", "enqueue_once", "task_id"]

_NAMES = UUID("5f0a3a0e-6a53-4b0e-9d3c-0b6a4cf0b2a1")
_at_once: ContextVar[bool] = ContextVar("at_once", default=False)
_next_id: ContextVar[UUID | None] = ContextVar("next_id", default=None)


@contextmanager
def at_once() -> Iterator[None]:
    """Within, a task is done where it is asked for: for stories that are told in a time of their own."""
    before = _at_once.set(True)
    try:
        yield
    finally:
        _at_once.reset(before)


def enqueue(task: Task[..., Any], *, now: datetime, **reported: Any) -> None:
    """Ask for a task, in the transaction that it follows from: undone with it, and never lost once it stands.

    `now` is the moment of whoever asks. A task done at once takes it for its own; a worker looks at the clock.
    Raises RuntimeError where a task that is done at once fails.
    """
    if not (_at_once.get() or settings.TASKS_AT_ONCE):
        task.enqueue(**reported, at=None)
        return
    done = task.using(backend="at once").enqueue(**reported, at=now.isoformat())
    if done.status == TaskResultStatus.FAILED:
        raise RuntimeError(done.errors[0].traceback)


def enqueue_once(task: Task[..., Any], name: str, *, now: datetime, **reported: Any) -> bool:
    """Ask for a task under a name; False when it was asked for under this name before (and done, or not yet)."""
    before = _next_id.set(uuid5(_NAMES, name))
    try:
        with transaction.atomic():
            enqueue(task, now=now, **reported)
    except IntegrityError:
        return False
    finally:
        _next_id.reset(before)
    return True


def task_id() -> UUID:
    """The key of a task's row: drawn, or made from its name, so that a name is there once."""
    return _next_id.get() or uuid4()
