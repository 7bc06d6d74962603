"""The one way into the database for a mutation: one transaction, writers queueing fairly."""

from __future__ import annotations

import fcntl
import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import ParamSpec, TypeVar

from django.db import IntegrityError, OperationalError, connection, transaction

from traveller.journal.refusal import Refusal, Refused

P = ParamSpec("P")
T = TypeVar("T")
_mine = threading.local()
_UNIQUE_VIOLATION, _DEADLOCK = "23505", "40P01"


@contextmanager
def queue() -> Iterator[None]:
    """SQLite's busy back-off is unfair: some writers starve. A file lock lets them in one after another.

    Re-entrant within a thread; nothing at all on PostgreSQL, which queues by row.
    """
    name = str(connection.settings_dict["NAME"])
    on_file = connection.vendor == "sqlite" and name and ":memory:" not in name and "mode=memory" not in name
    # Who is inside a transaction has the write lock already: to queue now would be to wait for oneself.
    if not on_file or getattr(_mine, "inside", False) or connection.in_atomic_block:
        yield
        return
    try:
        gate = _gate(name)
    except OSError as error:
        # A full or read-only disk says so here first; to whoever asks it is the database that cannot be written.
        raise OperationalError(f"the queue of writers can't be opened: {error}") from error
    fcntl.flock(gate, fcntl.LOCK_EX)
    _mine.inside = True
    try:
        yield
    finally:
        _mine.inside = False
        fcntl.flock(gate, fcntl.LOCK_UN)


class _Gates(dict[tuple[int, str], int]):
    """This thread's open lock files; closed when the thread ends."""

    def __del__(self) -> None:
        for handle in self.values():
            os.close(handle)


def _gate(name: str) -> int:
    """A handle for each thread, and for each process: a forked copy of a handle would share its lock."""
    gates: _Gates | None = getattr(_mine, "gates", None)
    if gates is None:
        gates = _mine.gates = _Gates()
    key = (os.getpid(), name)
    if key not in gates:
        gates[key] = os.open(Path(f"{name}.queue"), os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    return gates[key]


def action(do: Callable[P, T]) -> Callable[P, T | Refusal]:
    """Do it whole or not at all; a `Refused` raised inside comes back as its `Refusal`."""

    @wraps(do)
    def done(*args: P.args, **kwargs: P.kwargs) -> T | Refusal:
        try:
            try:
                return once(*args, **kwargs)
            except (IntegrityError, OperationalError) as clash:
                # Two reports at the same moment on PostgreSQL: the same id (this one now finds the other's
                # event), or each waiting for the other's rows. The first is through; once more, behind it.
                if not _collided(clash):
                    raise
                return once(*args, **kwargs)
        except Refused as refused:
            return refused.refusal

    def once(*args: P.args, **kwargs: P.kwargs) -> T:
        with queue(), transaction.atomic():
            return do(*args, **kwargs)

    return done


def _collided(clash: Exception) -> bool:
    return getattr(clash.__cause__, "sqlstate", None) in (_UNIQUE_VIOLATION, _DEADLOCK)
