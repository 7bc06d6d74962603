"""Parent and child processes: a child ends with its parent, also when that was killed and could tell nobody; and what
both need is in memory once."""

from __future__ import annotations

import gc
import os
import signal
import threading
from collections.abc import Iterable
from importlib import import_module
from time import sleep

LOOK_S = 0.5
# For what is being answered; then the port and the database must be free for the next server.
GRACE_S = 1.5


def imported_once(modules: Iterable[str]) -> None:
    """Import what the children will need, before they are forked from this process, so that they share it.

    Set apart from the sweeping of memory, which would write to all of it in each of them.
    """
    for module in modules:
        import_module(module)
    gc.collect()
    gc.freeze()


def stop_when_told() -> None:
    """Until this process has its own way of stopping, a signal ends it: a forked one got its parent's, deaf to it."""
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, signal.SIG_DFL)


def end_with(parent: int) -> None:
    """Watch the parent's process id in a thread; when it is gone, end in order, and soon in any case."""
    threading.Thread(target=_watch, args=(parent,), name="end-with-parent", daemon=True).start()


def _watch(parent: int) -> None:
    while os.getppid() == parent:
        sleep(LOOK_S)
    os.kill(os.getpid(), signal.SIGTERM)
    sleep(GRACE_S)
    os._exit(1)
