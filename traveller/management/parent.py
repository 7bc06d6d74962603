"""Parent and child processes: a child ends with its parent, also when that was killed and could tell nobody; and what
both need is in memory once."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterable
from importlib import import_module
from multiprocessing.process import BaseProcess
from time import sleep

from traveller.management.memory import give_memory_back

ENDING = (signal.SIGTERM, signal.SIGINT)
LOOK_S = 0.5
# For what is being answered; then the port and the database must be free for the next server.
GRACE_S = 1.5


def imported_once(modules: Iterable[str]) -> None:
    """Import what the children will need, before they are forked from this process, so that they share it.

    Set apart from the sweeping of memory, which would write to all of it in each of them.
    """
    # How many heaps there may be counts only for who asks before the first thread; libraries start some.
    give_memory_back()
    for module in modules:
        import_module(module)
    gc.collect()
    gc.freeze()


def stop_when_told() -> None:
    """Until this process has its own way of stopping, a signal ends it: a forked one got its parent's, deaf to it."""
    for number in ENDING:
        signal.signal(number, signal.SIG_DFL)


def begin_child(name: str, do: Callable[..., None], *given: object) -> BaseProcess:
    """Start `do(*given)` in a child of this process, forked where the system can; it must hold no connection then."""
    forking = sys.platform == "linux"
    kind = multiprocessing.get_context("fork").Process if forking else multiprocessing.get_context("spawn").Process
    process = kind(target=_begun, args=(os.getpid(), do, given), name=name)
    # A signal that comes before the child has its own way of stopping waits until it has.
    before = signal.pthread_sigmask(signal.SIG_BLOCK, ENDING)
    try:
        process.start()
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
    return process


def _begun(parent: int, do: Callable[..., None], given: tuple[object, ...]) -> None:
    stop_when_told()
    signal.pthread_sigmask(signal.SIG_UNBLOCK, ENDING)
    if os.getppid() == parent:
        do(*given)


def end_with(parent: int) -> None:
    """Watch the parent's process id in a thread; when it is gone, end in order, and soon in any case."""
    threading.Thread(target=_watch, args=(parent,), name="end-with-parent", daemon=True).start()


def _watch(parent: int) -> None:
    while os.getppid() == parent:
        sleep(LOOK_S)
    os.kill(os.getpid(), signal.SIGTERM)
    sleep(GRACE_S)
    os._exit(1)
