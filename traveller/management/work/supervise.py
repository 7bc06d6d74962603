"""Keeps the lanes running: one process each, started again when it ended, all of them ended when this one is."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from multiprocessing.process import BaseProcess
from types import FrameType

__all__ = ["Supervisor", "WorkLane"]

AGAIN_FIRST_S, AGAIN_MOST_S = 1.0, 30.0
# Who ran so long had begun well: the next end counts as the first.
SOUND_S = 60.0
LOOK_EVERY_S = 0.5
TIMED_EVERY_S = 60.0
# A task that has begun may end; then it is ended.
PATIENCE_S = 15.0


@dataclass
class WorkLane:
    """One process that does the tasks of one queue; `begin` starts it."""

    name: str
    begin: Callable[[str], BaseProcess]
    process: BaseProcess | None = None
    began: float = 0.0
    again_at: float = 0.0
    wait_s: float = AGAIN_FIRST_S

    def look(self, now: float) -> str:
        """Start it, or start it again when its time has come; what there is to say of it."""
        if self.process is None:
            if now < self.again_at:
                return ""
            self.began = now
            self.process = self.begin(self.name)
            return ""
        ended = self.process.exitcode
        if ended is None:
            return ""
        if now - self.began >= SOUND_S:
            self.wait_s = AGAIN_FIRST_S
        said = f"The {self.name} lane ended ({_why(ended)}); it starts again in {self.wait_s:.0f} s."
        self.process, self.again_at = None, now + self.wait_s
        self.wait_s = min(self.wait_s * 2, AGAIN_MOST_S)
        return said


@dataclass
class Supervisor:
    """Runs until it is told to end, or its parent has ended (`parent`: its number, None where nobody started it)."""

    lanes: Sequence[WorkLane]
    say: Callable[[str], None]
    timed: Callable[[], None]
    # Called when a lane has ended: what it had taken is given to the next at once.
    ended: Callable[[], None] = lambda: None
    parent: int | None = None
    _ending: bool = field(default=False, init=False)

    def run(self) -> None:
        """Until SIGTERM, SIGINT or the end of the parent; then the lanes are ended, and waited for."""
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._end)
        next_timed = 0.0
        try:
            while not self._ending and (self.parent is None or os.getppid() == self.parent):
                now = time.monotonic()
                for lane in self.lanes:
                    if said := lane.look(now):
                        self.say(said)
                        self.ended()
                if now >= next_timed:
                    next_timed = now + TIMED_EVERY_S
                    self.timed()
                time.sleep(LOOK_EVERY_S)
        finally:
            self._end_lanes()

    def _end(self, number: int, frame: FrameType | None) -> None:
        self._ending = True

    def _end_lanes(self) -> None:
        running = [lane.process for lane in self.lanes if lane.process and lane.process.is_alive()]
        for process in running:
            process.terminate()
        until = time.monotonic() + PATIENCE_S
        for process in running:
            process.join(max(0.1, until - time.monotonic()))
            if process.is_alive():
                process.kill()
                process.join()


def _why(ended: int) -> str:
    return f"code {ended}" if ended >= 0 else signal.Signals(-ended).name
