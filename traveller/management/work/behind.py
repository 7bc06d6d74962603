"""`manage.py work` as a child of the server: started with it, started again when it ended, ended with it."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

from django.conf import settings

__all__ = ["working"]

AGAIN_S = 5.0
PATIENCE_S = 20.0


@contextmanager
def working() -> Iterator[None]:
    """A worker behind whatever is done within; it ends with this process however that ends."""
    over = threading.Event()
    watch = threading.Thread(target=_keep, args=(over,), name="worker", daemon=True)
    watch.start()
    try:
        yield
    finally:
        over.set()
        watch.join(PATIENCE_S)


def _keep(over: threading.Event) -> None:
    while not over.is_set():
        child = subprocess.Popen(
            [sys.executable, str(settings.ROOT / "manage.py"), "work", "--parent", str(os.getpid())],
            stdin=subprocess.DEVNULL,
        )
        while child.poll() is None and not over.wait(0.5):
            pass
        if child.poll() is None:
            child.terminate()
            with suppress(subprocess.TimeoutExpired):
                child.wait(PATIENCE_S)
                return
            child.kill()
        over.wait(AGAIN_S)
