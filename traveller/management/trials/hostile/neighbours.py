"""Another shop that reports and a founder who looks, all the time: how long each waits, quiet and under attack."""

from __future__ import annotations

import threading
import time
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from statistics import median

from traveller.management.trials.hostile.caller import NO_ANSWER, Caller, Heard

PAUSE_S = 0.3
QUIET_TIMES = 3
_SURE = {f"sure:{name}": "yes" for name in ("same_again", "far_more_than_planned", "step_was_done", "beyond_cap")}


@dataclass
class Waits:
    """Seconds by what was asked, apart for each phase of the trial."""

    phase: str = "quiet"
    seconds: dict[tuple[str, str], list[float]] = field(default_factory=lambda: defaultdict(list))
    refused: list[str] = field(default_factory=list)
    lost_after_s: float = 60.0
    last_answer: float = field(default_factory=time.monotonic)

    def note(self, what: str, phase: str, answer: Heard, right: int) -> None:
        """`phase` is the one in which it was asked."""
        self.seconds[what, phase].append(answer.seconds)
        if answer.status != NO_ANSWER:
            self.last_answer = time.monotonic()
        if answer.status != right:
            self.refused.append(f"{what}: {answer.status or 'no answer'}")

    @property
    def lost(self) -> bool:
        """Nobody was answered for so long that the server is as good as dead."""
        return time.monotonic() - self.last_answer > self.lost_after_s

    def asked(self) -> list[str]:
        return sorted({what for what, _ in self.seconds})

    def quiet(self, what: str) -> float:
        """The usual wait when nobody attacks."""
        return median(self.seconds[what, "quiet"] or [float("nan")])

    def worst(self, what: str, phase: str) -> float:
        return max(self.seconds[what, phase], default=0.0)


@dataclass
class Neighbours:
    """Two threads that go on until they are told to stop."""

    waits: Waits = field(default_factory=Waits)
    whats: list[str] = field(default_factory=list)
    _over: threading.Event = field(default_factory=threading.Event)
    _threads: list[threading.Thread] = field(default_factory=list)

    def start(self, shop: Caller, step: int, founder: Caller, pages: Sequence[str]) -> None:
        reporting = [
            ("report of a count", lambda: _report(shop, step), 302),
            ("the shop's list", lambda: shop.get("/here/"), 200),
        ]
        looking = [(f"founder's {page}", lambda page=page: founder.get(page), 200) for page in pages]
        self.whats = [what for what, _, _ in (*reporting, *looking)]
        for turns in (reporting, looking):
            thread = threading.Thread(target=self._go_on, args=(turns,), daemon=True)
            self._threads.append(thread)
            thread.start()

    def watch_quiet(self, least_s: float, most_s: float = 180.0) -> float:
        """So long, and until each page was answered a few times while nothing happens; seconds."""
        began = time.monotonic()
        while time.monotonic() - began < most_s:
            seen = min(len(self.waits.seconds[what, "quiet"]) for what in self.whats)
            if time.monotonic() - began >= least_s and seen >= QUIET_TIMES:
                break
            time.sleep(0.1)
        return time.monotonic() - began

    def _go_on(self, turns: Sequence[tuple[str, Callable[[], Heard], int]]) -> None:
        number = 0
        while not self._over.wait(PAUSE_S):
            what, ask, right = turns[number % len(turns)]
            phase, number = self.waits.phase, number + 1
            self.waits.note(what, phase, ask(), right)

    def stop(self) -> None:
        self._over.set()
        for thread in self._threads:
            thread.join()


def _report(shop: Caller, step: int) -> Heard:
    """One good piece, and yes to whatever is asked: the same figures come again and again."""
    return shop.post(f"/here/step/{step}/count", {"good": 1, "stage": "rest", **_SURE})
