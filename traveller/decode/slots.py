"""Places for decoders, over all processes of this machine: locks on files, which the system lets go of by itself.

One place for all that waits its turn behind the pages, and one for the photo of a code, for which somebody stands
waiting; so that however much is sent, decoding takes so much memory and no more.
"""

from __future__ import annotations

import fcntl
import os
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

__all__ = ["alone", "slot"]

_LOOK_AGAIN_S = 0.05


@contextmanager
def slot(place: Path, names: Sequence[str], wait_s: float) -> Iterator[bool]:
    """Hold the first free of these places; False when none came free within `wait_s` seconds."""
    until = time.monotonic() + wait_s
    handle = _first_free(place, names)
    while handle is None and time.monotonic() < until:
        time.sleep(_LOOK_AGAIN_S)
        handle = _first_free(place, names)
    try:
        yield handle is not None
    finally:
        if handle is not None:
            os.close(handle)


@contextmanager
def alone(place: Path, name: str) -> Iterator[bool]:
    """Hold what only one at a time may hold under this name; False at once when somebody has it."""
    handle = _locked(place / f"one-{name}")
    try:
        yield handle is not None
    finally:
        if handle is not None:
            os.close(handle)


def _first_free(place: Path, names: Sequence[str]) -> int | None:
    for name in names:
        handle = _locked(place / f"slot-{name}")
        if handle is not None:
            return handle
    return None


def _locked(path: Path) -> int | None:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(handle)
        return None
    return handle
