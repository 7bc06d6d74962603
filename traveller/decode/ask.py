"""The asker's side: a child is started, given the bytes, and ended by the clock, whatever becomes of it."""

from __future__ import annotations

import os
import selectors
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import IO, Any, Literal

from traveller.decode.limits import ANSWER_BYTES_MAX, LIMITS, Limit
from traveller.decode.slots import slot
from traveller.decode.wire import message, unpack

__all__ = ["Decoded", "Undecoded", "decode"]

CHILD = Path(__file__).with_name("child.py")
# Nothing of the caller's: no database address, no secret. One thread, so that the libraries take little room.
ENVIRONMENT = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "0"}
_PIECE = 1 << 16
Why = Literal["busy", "too_slow", "too_large", "unreadable", "ended"]


@dataclass(frozen=True, slots=True)
class Decoded:
    """What the child found: figures as JSON keeps them, and bytes such as a drawn picture or an array."""

    facts: dict[str, Any]
    blobs: list[bytes] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Undecoded:
    """Nothing came of it: no place was free, it took too long or too much memory, the decoder fell over it, or it was
    ended from outside (by a person, by a system short of memory, by the clock of a machine that was too busy to let it
    run), which says nothing of the file."""

    why: Why


class _EndedEarly(Exception):
    """The child was ended, or ended itself, before it had answered."""

    def __init__(self, why: Why) -> None:
        self.why: Why = why


Blob = bytes | Callable[[], bytes]


def decode(kind: str, blobs: Sequence[Blob], asked: Mapping[str, Any], *, place: Path) -> Decoded | Undecoded:
    """Decode `blobs` in a child process by `kinds/KIND.py`; never raises for what the bytes hold.

    A blob that still has to be read is so once there is a place for its decoder: who waits for one holds nothing.
    `asked` is what the kind wants to know beside the bytes (JSON values, ours, not the sender's); `place` the folder
    where all processes of one data folder share their slots. KeyError for a kind that there is not.
    """
    limit = LIMITS[kind]
    head = {"kind": kind, "cpu_s": limit.cpu_s, "memory_bytes": limit.memory_bytes, "asked": dict(asked)}
    with slot(place, limit.slots, limit.slot_wait_s) as got:
        if not got:
            return Undecoded("busy")
        try:
            answer = _asked(message(head, [blob if isinstance(blob, bytes) else blob() for blob in blobs]), limit)
        except _EndedEarly as early:
            return Undecoded(early.why)
    try:
        facts, found = unpack(answer.readline(), answer.read)
    except ValueError:
        return Undecoded("unreadable")
    if fault := facts.get("fault"):
        return Undecoded(fault if fault in ("too_slow", "too_large") else "unreadable")
    return Decoded(facts, found)


def _asked(pieces: Sequence[bytes], limit: Limit) -> IO[bytes]:
    child = subprocess.Popen(
        [sys.executable, "-I", str(CHILD)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=ENVIRONMENT,
        cwd="/",
        start_new_session=True,
    )
    assert child.stdin is not None and child.stdout is not None
    try:
        answer = _exchange(child.stdin, child.stdout, pieces, time.monotonic() + limit.wall_s)
        left = child.wait(timeout=1)
    except subprocess.TimeoutExpired:
        raise _EndedEarly("too_slow") from None
    except _EndedEarly as early:
        if early.why == "too_slow" and _was_starved(child.pid, limit):
            raise _EndedEarly("ended") from None
        raise
    finally:
        # It and whatever it may have started; who is gone already is gone.
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(child.pid, signal.SIGKILL)
        child.stdin.close()
        child.stdout.close()
        child.wait()
    if left == -signal.SIGXCPU:
        raise _EndedEarly("too_slow")
    if left == -signal.SIGKILL:
        # Not by us, who had its whole answer or none: then too_slow or too_large has been said already.
        raise _EndedEarly("ended")
    if left == -signal.SIGABRT:
        # How libraries in C++ end where memory ends.
        raise _EndedEarly("too_large")
    if left != 0:
        raise _EndedEarly("unreadable")
    return answer


def _was_starved(pid: int, limit: Limit) -> bool:
    """Did the machine give this child less than half of the processor that it may use? Then it says nothing of the
    file. Where the system tells no such figures, the clock alone decides."""
    try:
        line = Path(f"/proc/{pid}/stat").read_text(encoding="ascii", errors="replace")
        used = sum(int(ticks) for ticks in line.rpartition(")")[2].split()[11:13]) / os.sysconf("SC_CLK_TCK")
    except (OSError, ValueError, IndexError):
        return False
    return used < limit.cpu_s / 2


def _exchange(into: IO[bytes], out: IO[bytes], pieces: Sequence[bytes], until: float) -> IO[bytes]:
    """Write and read at once, so that neither side waits for the other for ever."""
    os.set_blocking(into.fileno(), False)
    os.set_blocking(out.fileno(), False)
    left_to_write = [memoryview(piece) for piece in pieces if piece]
    answer = BytesIO()
    with selectors.DefaultSelector() as ways:
        ways.register(into, selectors.EVENT_WRITE)
        ways.register(out, selectors.EVENT_READ)
        while True:
            left = until - time.monotonic()
            if left <= 0:
                raise _EndedEarly("too_slow")
            for key, _ in ways.select(left):
                if key.fileobj is into:
                    if not _write(into, left_to_write):
                        ways.unregister(into)
                        into.close()
                    continue
                piece = os.read(out.fileno(), _PIECE)
                if not piece:
                    answer.seek(0)
                    return answer
                if answer.write(piece) and answer.tell() > ANSWER_BYTES_MAX:
                    raise _EndedEarly("too_large")


def _write(into: IO[bytes], pieces: list[memoryview]) -> bool:
    """Write some of it; is there more to write? Not where the child does not listen any longer."""
    try:
        pieces[0] = pieces[0][os.write(into.fileno(), pieces[0][:_PIECE]) :]
    except BrokenPipeError:
        return False
    if not pieces[0]:
        del pieces[0]
    return bool(pieces)
