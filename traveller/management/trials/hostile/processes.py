"""The processes of this system as /proc tells them: who started whom, how much memory each has. Linux only."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Collection, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

PROC = Path("/proc")
# So short a mark would make strangers ours, and what is ours is ended in the end.
MARK_LEAST = 16


@dataclass(frozen=True, slots=True, eq=False)
class Process:
    """A process; `born` (ticks since the system started) tells it from a later one with the same number.

    `over`: it has ended, and only waits for its parent to ask how.
    """

    pid: int
    parent: int
    session: int
    born: int
    over: bool

    def __hash__(self) -> int:
        return hash((self.pid, self.born))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Process) and (self.pid, self.born) == (other.pid, other.born)


def every() -> dict[int, Process]:
    """All processes that can be seen now."""
    return {found.pid: found for found in _all()}


def _all() -> Iterator[Process]:
    for place in PROC.iterdir():
        if place.name.isdecimal():
            with suppress(OSError, ValueError, IndexError):
                # The name stands in brackets and may hold anything.
                rest = (place / "stat").read_text(encoding="utf-8", errors="replace").rpartition(")")[2].split()
                yield Process(int(place.name), int(rest[1]), int(rest[3]), int(rest[19]), rest[0] == "Z")


@dataclass
class Marked:
    """Which processes have a mark in their surroundings: each is asked once, since the first answer stays."""

    mark: str
    _asked: dict[Process, bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if len(self.mark) < MARK_LEAST:
            raise ValueError(f"{self.mark!r} would stand in anybody's surroundings")

    def among(self, known: Collection[Process]) -> set[int]:
        for one in known:
            if one not in self._asked:
                self._asked[one] = self.mark.encode() in _surroundings(one.pid)
        return {one.pid for one in known if self._asked[one]}


def family_of(root: int, marked: Marked | None = None) -> list[Process]:
    """`root`, all that came from it, all of its session, and all that are marked; never this process or its own.

    Raises ValueError for a root below 2: session 0 is everybody whose session began outside of a container.
    """
    if root < 2:
        raise ValueError(f"process {root} has no family of its own")
    known = every()
    own = {pid for pid, one in known.items() if root in (pid, one.session)}
    if marked is not None:
        own |= marked.among(list(known.values()))
    own -= _before(known)
    while more := {pid for pid, one in known.items() if one.parent in own} - own:
        own |= more
    return [known[pid] for pid in sorted(own) if not known[pid].over]


def _before(known: Mapping[int, Process]) -> set[int]:
    """This process and those from which it came."""
    found, pid = {0, 1}, os.getpid()
    while pid in known and pid not in found:
        found.add(pid)
        pid = known[pid].parent
    return found


def _surroundings(pid: int) -> bytes:
    try:
        return (PROC / str(pid) / "environ").read_bytes()
    except OSError:
        return b""


def _field(pid: int, file: str, name: str) -> int:
    """A figure of /proc in bytes; 0 when the process is gone."""
    try:
        lines = (PROC / str(pid) / file).read_text(encoding="ascii", errors="replace").splitlines()
    except OSError:
        return 0
    return next((int(line.split()[1]) * 1024 for line in lines if line.startswith(f"{name}:")), 0)


def share(pid: int) -> int:
    """Its proportional share of memory (PSS) in bytes: what several processes share is counted once."""
    return _field(pid, "smaps_rollup", "Pss")


def highest(pid: int) -> int:
    """The most memory it ever had at once (VmHWM), in bytes."""
    return _field(pid, "status", "VmHWM")


def seconds(pid: int) -> float:
    """Seconds of the processor that it has used."""
    try:
        rest = (PROC / str(pid) / "stat").read_text(encoding="utf-8", errors="replace").rpartition(")")[2].split()
        return (int(rest[11]) + int(rest[12])) / os.sysconf("SC_CLK_TCK")
    except (OSError, IndexError):
        return 0.0


def command(pid: int) -> str:
    """What it was started as, for people to recognise it."""
    try:
        return (PROC / str(pid) / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace").strip()[:120]
    except OSError:
        return ""


def alive(known: Collection[Process]) -> list[Process]:
    """Those of them that still run."""
    now = every()
    return [one for one in known if (found := now.get(one.pid)) and found == one and not found.over]


def end_all(known: Collection[Process], within_s: float = 5.0) -> None:
    """Kill those of them that still run, and wait until they are gone."""
    until = time.monotonic() + within_s
    while (left := alive(known)) and time.monotonic() < until:
        for one in left:
            with suppress(OSError):
                os.kill(one.pid, signal.SIGKILL)
        time.sleep(0.05)


def outlived(known: Mapping[Process, str], grace_s: float) -> list[str]:
    """Those that still run so many seconds later, each with its command; they are ended now."""
    until = time.monotonic() + grace_s
    while (left := alive(list(known))) and time.monotonic() < until:
        time.sleep(0.1)
    words = [f"{one.pid} {known[one]}" for one in left]
    end_all(left)
    return words
