"""The child: it imports what it needs, gives up all it could do harm with, and only then looks at the bytes.

Started as a file of its own (`python -I child.py`) with an empty environment; asked over standard input, answering
over standard output, in the form of `wire`.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

NO_NEW_RIGHTS, DIE_WITH_PARENT = 38, 1


def main() -> None:
    """Read the head, import, bind, read the rest, decode, answer."""
    _end_with_parent()
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
    json = import_module("json")
    wire = import_module("traveller.decode.wire")
    asked_in, answered_out = sys.stdin.buffer, sys.stdout.buffer
    line = asked_in.readline()
    head = json.loads(line)["head"]
    kind = import_module(f"traveller.decode.kinds.{head['kind']}")
    # Libraries import and open some of what they need at its first use: each kind is gone through once with bytes of
    # our own, before opening ends.
    kind.rehearse(head["asked"])
    bind(int(head["cpu_s"]), int(head["memory_bytes"]))
    for piece in wire.message(*found_or_fault(lambda: kind.decode(head["asked"], wire.unpack(line, asked_in.read)[1]))):
        answered_out.write(piece)
    answered_out.flush()
    # Nothing is left to be tidied up, and a damaged decoder may not survive it.
    os._exit(0)


def found_or_fault(decode: Callable[[], tuple[dict[str, Any], list[bytes]]]) -> tuple[dict[str, Any], list[bytes]]:
    """What a decoder found, or {"fault": why} where it fell over what it was given; never raises."""
    try:
        return decode()
    except MemoryError:
        return {"fault": "too_large"}, []
    except Exception:
        # A stranger's file makes decoders fail in every way there is; that it could not be read is all there is to say.
        return {"fault": "unreadable"}, []


def _end_with_parent() -> None:
    """Where the system can do it: whoever asked is gone, so nobody waits for the answer."""
    try:
        import ctypes

        system = ctypes.CDLL(None, use_errno=True)
        system.prctl(DIE_WITH_PARENT, signal.SIGKILL, 0, 0, 0)
        system.prctl(NO_NEW_RIGHTS, 1, 0, 0, 0)
    except (ImportError, OSError, AttributeError):
        return


def bind(cpu_s: int, memory_bytes: int) -> None:
    """Close what was inherited and give up opening, writing, room and time. What cannot be promised is left out."""
    import resource

    os.closerange(3, 1024)
    wanted = (
        ("RLIMIT_NOFILE", 3, 3),
        ("RLIMIT_FSIZE", 0, 0),
        ("RLIMIT_CORE", 0, 0),
        # At the first it is told that its time is over, which the asker can tell from any other end.
        ("RLIMIT_CPU", cpu_s, cpu_s + 1),
        ("RLIMIT_AS", memory_bytes, memory_bytes),
    )
    for name, soft, hard in wanted:
        try:
            resource.setrlimit(getattr(resource, name), (soft, hard))
        except (AttributeError, ValueError, OSError):
            continue


if __name__ == "__main__":
    main()
