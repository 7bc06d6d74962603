"""What each file costs a bare decoder: two seconds, 300 MB or an exception, or it is not hostile and does not count."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import tarfile
import tempfile
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from traveller.management.trials.hostile import processes
from traveller.management.trials.hostile.files import Hostile

MB = 1_000_000
COSTS_S, COSTS_BYTES = 2.0, 300 * MB
MEMORY_LIMIT = 3_000 * MB
# On a busy machine a file may take long before it has cost anything; what it costs is reckoned by the processor.
WALL_S = 60.0
# More than it has to cost: then it is stopped.
ENOUGH_S = 2.5
LOOK_S = 0.05
DECODER = Path(__file__).with_name("decoder.py")
PROJECT = Path(__file__).resolve().parents[4]
# The last commit before decoding had limits; its reader of logs stands in the trial's folder under the same name.
BEFORE = "3fa0030"
UNKNOWN_KIND = "UnidentifiedImageError"


@dataclass(frozen=True, slots=True)
class Cost:
    """Seconds of the processor and bytes beyond what the decoder needs for nothing; the exception's name."""

    seconds: float
    bytes: int
    fault: str = ""
    stopped: bool = False

    @property
    def why(self) -> str:
        """Which of the three it costs; empty when none."""
        ways = []
        if self.seconds >= COSTS_S:
            ways.append("time")
        if self.bytes >= COSTS_BYTES:
            ways.append("memory")
        # That a file is of no known kind is no cost: so is every text.
        if self.fault and self.fault != UNKNOWN_KIND:
            ways.append("exception")
        return " + ".join(ways)


def cost_of(kind: Hostile, content: bytes, folder: Path, wall_s: float = WALL_S) -> Cost:
    """Read it once by a bare decoder, which is ended with all that it started once it has cost enough."""
    place = folder / f"costed{kind.suffix}"
    place.write_bytes(content)
    scratch = folder / "costing"
    scratch.mkdir(exist_ok=True)
    call = [sys.executable, str(DECODER), kind.reader, str(place), str(MEMORY_LIMIT)]
    # A temporary folder of its own, so that what a file makes the decoder write is not mixed with anything.
    surroundings = {**os.environ, "TMPDIR": str(scratch), "PYTHONPATH": str(folder / BEFORE)}
    with tempfile.TemporaryFile(dir=folder) as said:
        child = subprocess.Popen(
            call, stdin=subprocess.DEVNULL, stdout=said, stderr=subprocess.DEVNULL, env=surroundings, cwd=scratch,
            start_new_session=True,
        )  # fmt: skip
        seen = _watch(child, wall_s)
        said.seek(0)
        lines = [json.loads(line) for line in said.read().splitlines()]
    place.unlink()
    before = lines[0]["before"] if lines else 0
    more = max(0, seen.bytes - before)
    if len(lines) > 1:
        return Cost(lines[1]["seconds"], max(lines[1]["bytes"], more), lines[1].get("fault", ""))
    fault = "" if seen.stopped else f"ended by {_named(child.returncode)}"
    return Cost(seen.seconds, more, fault, seen.stopped)


@dataclass(frozen=True, slots=True)
class _Seen:
    """From outside: seconds of the processor and the most memory of a child with all that it started."""

    seconds: float
    bytes: int
    stopped: bool


def _watch(child: subprocess.Popen[bytes], wall_s: float) -> _Seen:
    """Look on until the child ends or has to be ended, and leave nothing behind that it started."""
    until, most = time.monotonic() + wall_s, 0
    spent: dict[processes.Process, float] = {}
    while child.poll() is None and time.monotonic() < until and sum(spent.values()) < ENOUGH_S:
        own = processes.family_of(child.pid)
        spent |= {one: processes.seconds(one.pid) for one in own}
        most = max(most, sum(processes.highest(one.pid) for one in own))
        with suppress(subprocess.TimeoutExpired):
            child.wait(LOOK_S)
    stopped = child.poll() is None
    if stopped:
        child.kill()
    processes.end_all([one for one in spent if one.pid != child.pid])
    child.wait()
    return _Seen(sum(spent.values()), most, stopped)


def _named(code: int) -> str:
    return signal.Signals(-code).name if code < 0 else f"code {code}"


def earlier_reader(folder: Path) -> bool:
    """Put the reader of logs as it was into the trial's folder; False where its history is not at hand."""
    git = shutil.which("git")
    packed = folder / "before.tar"
    asked = [
        str(git),
        "-C",
        str(PROJECT),
        "archive",
        "-o",
        str(packed),
        BEFORE,
        "traveller/__init__.py",
        "traveller/rules",
    ]
    if git is None or subprocess.run(asked, capture_output=True, check=False).returncode:
        return False
    with tarfile.open(packed) as archive:
        archive.extractall(folder / BEFORE, filter="data")
    return True
