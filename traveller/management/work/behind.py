"""The work as a child of the server: started with it, started again when it ended, ended with it.

The first is forked from the server's own process, before that has threads but the one that keeps its release's lock at
PostgreSQL: what both have imported is in memory once. One that has to be started again is a new program.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import traceback
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from multiprocessing.process import BaseProcess

from django.conf import settings
from django.db import connections

from traveller.management.parent import begin_child
from traveller.management.work.run import run

__all__ = ["working"]

AGAIN_S = 5.0
PATIENCE_S = 20.0
LOOK_S = 0.5


@contextmanager
def working() -> Iterator[None]:
    """A worker behind whatever is done within; it ends with this process however that ends."""
    over = threading.Event()
    first = begin_child("work", _work, os.getpid()) if sys.platform == "linux" else None
    watch = threading.Thread(target=_keep, args=(first, over), name="worker", daemon=True)
    watch.start()
    try:
        yield
    finally:
        over.set()
        watch.join(PATIENCE_S)


def _work(parent: int) -> None:
    connections.close_all()
    try:
        run(_say, _complain, parent)
    except Exception:  # the door of a process: its end is told, and the watch starts another
        traceback.print_exc()
        raise SystemExit(1) from None


def _say(words: str) -> None:
    print(words, flush=True)


def _complain(words: str) -> None:
    print(words, file=sys.stderr, flush=True)


def _keep(first: BaseProcess | None, over: threading.Event) -> None:
    if first is not None:
        while first.is_alive() and not over.wait(LOOK_S):
            pass
        if over.is_set():
            first.terminate()
            first.join(PATIENCE_S)
            first.kill()
            return
        over.wait(AGAIN_S)
    while not over.is_set():
        _keep_program(over)


def _keep_program(over: threading.Event) -> None:
    child = subprocess.Popen(
        [sys.executable, str(settings.ROOT / "manage.py"), "work", "--parent", str(os.getpid())],
        stdin=subprocess.DEVNULL,
    )
    while child.poll() is None and not over.wait(LOOK_S):
        pass
    if child.poll() is None:
        child.terminate()
        with suppress(subprocess.TimeoutExpired):
            child.wait(PATIENCE_S)
            return
        child.kill()
    over.wait(AGAIN_S)
