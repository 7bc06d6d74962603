"""File locks that the kernel lets go when their process ends, however it ends."""

from __future__ import annotations

import contextlib
import fcntl
import os
import stat
from pathlib import Path
from time import sleep

# Somebody who is about to share holds the lock alone for a moment.
SHARE_TRIES, SHARE_AGAIN_S = 40, 0.05
WORDS_BYTES = 400
_held: dict[Path, int] = {}


class Taken(Exception):
    """Another process holds the lock; `who` is what it wrote down about itself, empty when it wrote nothing."""

    def __init__(self, who: str) -> None:
        super().__init__(who)
        self.who = who


def hold_lock(file: Path, who: str) -> None:
    """Hold this file's lock until the process ends; `who` is one line for those who come second.

    Does nothing when this process holds it already. Raises `Taken`, and `OSError` where the file cannot be made.
    The file itself stays: to remove it would let two processes lock two files of one name.
    """
    if file in _held:
        return
    handle = os.open(file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, stat.S_IRUSR | stat.S_IWUSR)
    try:
        free = _locked(handle, fcntl.LOCK_EX)
    except OSError:
        os.close(handle)
        raise
    if not free:
        words = os.pread(handle, WORDS_BYTES, 0).decode(errors="replace").strip()
        os.close(handle)
        raise Taken(words)
    _held[file] = handle
    with contextlib.suppress(OSError):  # on a full disk the lock counts without the name
        os.ftruncate(handle, 0)
        os.pwrite(handle, who.encode(), 0)


def share(file: Path, mark: str, who: str) -> None:
    """Hold this file's lock, until the process ends, together with all others who bring the same mark.

    Raises `Taken` with what the first of the others wrote down while any of them holds it under another mark.
    """
    if file in _held:
        return
    handle = os.open(file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, stat.S_IRUSR | stat.S_IWUSR)
    try:
        first, words = _shared(handle, mark, who)
    except OSError:
        os.close(handle)
        raise
    if first != mark:
        os.close(handle)
        raise Taken(words)
    _held[file] = handle


def _shared(handle: int, mark: str, who: str) -> tuple[str, str]:
    """Which mark stands there once it is shared, and who wrote it; two empty ones while somebody holds it alone."""
    for _ in range(SHARE_TRIES):
        if _locked(handle, fcntl.LOCK_EX):
            # Over what stands there, never shorter: on a full disk there is no room but the old words'.
            os.pwrite(handle, f"{mark}\n{who}\n".encode()[:WORDS_BYTES].ljust(WORDS_BYTES), 0)
        # From one lock to the other there is a moment without any: whoever came in it has written another mark.
        if _locked(handle, fcntl.LOCK_SH):
            first, _, words = os.pread(handle, WORDS_BYTES, 0).decode(errors="replace").partition("\n")
            return first, words.strip()
        sleep(SHARE_AGAIN_S)
    return "", ""


def _locked(handle: int, how: int) -> bool:
    try:
        fcntl.flock(handle, how | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def let_lock_go(file: Path) -> None:
    """End one lock before the process ends."""
    if file in _held:
        os.close(_held.pop(file))


def _not_inherited() -> None:
    """A forked child drops its copies: it must not hold a lock that its killed parent has lost."""
    for handle in _held.values():
        os.close(handle)
    _held.clear()


os.register_at_fork(after_in_child=_not_inherited)
