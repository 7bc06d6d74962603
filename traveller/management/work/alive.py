"""Which process is this, and does it still run? A worker signs what it takes, so that it can be known to be gone."""

from __future__ import annotations

import os
import socket
from pathlib import Path

__all__ = ["is_gone", "worker_name"]

_HOST = socket.gethostname().split(".")[0][:32] or "here"


def worker_name() -> str:
    """This process: machine, number, and when it began, since numbers are given again."""
    return f"{_HOST}:{os.getpid()}:{_began(os.getpid())}"


def is_gone(worker: str) -> bool:
    """Did this worker run on this machine and does no more? Of other machines nothing is known: False."""
    host, _, rest = worker.partition(":")
    number, _, began = rest.partition(":")
    if host != _HOST or not number.isdecimal():
        return False
    try:
        os.kill(int(number), 0)
    except ProcessLookupError:
        return True
    except PermissionError:
        return False
    return bool(began) and _began(int(number)) != began


def _began(number: int) -> str:
    """The moment of its start as the system counts it; empty where the system does not tell."""
    try:
        line = Path(f"/proc/{number}/stat").read_text(encoding="ascii", errors="replace")
    except OSError:
        return ""
    # The name in brackets may hold anything; the 20th field behind it is the start.
    fields = line.rpartition(")")[2].split()
    return fields[19] if len(fields) > 19 else ""
