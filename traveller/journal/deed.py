"""The one way into the database for a mutation: one transaction, writers queueing fairly."""

from __future__ import annotations

import fcntl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import ParamSpec, TypeVar

from django.db import connection, transaction

from traveller.journal.refusal import Refusal, Refused

P = ParamSpec("P")
T = TypeVar("T")
_mine = threading.local()


@contextmanager
def queue() -> Iterator[None]:
    """SQLite's busy back-off is unfair: some writers starve. A file lock lets them in one after another.

    Re-entrant within a thread; nothing at all on PostgreSQL, which queues by row.
    """
    name = connection.settings_dict["NAME"]
    on_file = (
        connection.vendor == "sqlite"
        and name
        and ":memory:" not in str(name)
        and "mode=memory" not in str(name)
    )
    if not on_file or getattr(_mine, "inside", False):
        yield
        return
    handle = getattr(_mine, "handles", {}).get(str(name))
    if handle is None:
        handle = Path(f"{name}.queue").open("w")
        _mine.handles = {**getattr(_mine, "handles", {}), str(name): handle}
    fcntl.flock(handle, fcntl.LOCK_EX)
    _mine.inside = True
    try:
        yield
    finally:
        _mine.inside = False
        fcntl.flock(handle, fcntl.LOCK_UN)


def deed(action: Callable[P, T]) -> Callable[P, T | Refusal]:
    """Run an action whole or not at all; a `Refused` raised inside comes back as its `Refusal`."""

    @wraps(action)
    def done(*args: P.args, **kwargs: P.kwargs) -> T | Refusal:
        try:
            with queue(), transaction.atomic():
                return action(*args, **kwargs)
        except Refused as refused:
            return refused.refusal

    return done
