"""A measured figure beside its target, and how two ways of doing the same are measured against each other."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from statistics import median
from typing import Any, Literal

Size = Literal["tiny", "quick", "full"]
Better = Literal["at least", "at most"]


@dataclass(frozen=True, slots=True)
class Figure:
    """One line of the table. `target` None: it is only told."""

    name: str
    value: float
    better: Better = "at least"
    target: float | None = None
    unit: str = ""
    notes: str = ""

    @property
    def met(self) -> bool:
        if self.target is None:
            return True
        return self.value >= self.target if self.better == "at least" else self.value <= self.target

    def as_data(self) -> dict[str, Any]:
        return asdict(self)


@dataclass(frozen=True, slots=True)
class NotRun:
    """A measurement that could not run here, and why."""

    name: str
    why: str


@dataclass(frozen=True, slots=True)
class Spent:
    """What so many doings took: seconds on the wall, and seconds of this process's CPU."""

    wall_s: float
    cpu_s: float
    doings: int

    @property
    def wall_ms(self) -> float:
        return self.wall_s / self.doings * 1000

    @property
    def cpu_ms(self) -> float:
        return self.cpu_s / self.doings * 1000


@dataclass(frozen=True, slots=True)
class Rounds:
    """Ours and the floor, round by round: each pair was measured in the same moment of a noisy machine."""

    ours: Sequence[Spent]
    floor: Sequence[Spent]

    def rate_ratio(self, *, cpu: bool = False) -> float:
        """Our rate as a share of the floor's: the median of the rounds' own ratios."""
        pairs = zip(self.ours, self.floor, strict=True)
        return median(b.cpu_ms / a.cpu_ms if cpu else b.wall_ms / a.wall_ms for a, b in pairs)

    def reported(self) -> str:
        """Milliseconds of both, on the wall and of CPU, for the notes."""
        return (
            f"{median(s.wall_ms for s in self.ours):.2f} ms, {median(s.cpu_ms for s in self.ours):.2f} of CPU; floor "
            f"{median(s.wall_ms for s in self.floor):.2f} ms, {median(s.cpu_ms for s in self.floor):.2f} of CPU"
        )


def spend(doings: Sequence[Callable[[], object]]) -> Spent:
    wall, cpu = time.perf_counter(), time.process_time()
    for do in doings:
        do()
    return Spent(time.perf_counter() - wall, time.process_time() - cpu, len(doings))


def in_turns(
    rounds: int,
    ours: Callable[[int], Sequence[Callable[[], object]]],
    floor: Callable[[int], Sequence[Callable[[], object]]],
) -> Rounds:
    """Measure both in every round, first the one, then the other; `ours` and `floor` prepare a round's doings."""
    spent: tuple[list[Spent], list[Spent]] = ([], [])
    for turn in range(rounds):
        prepared = (ours(turn), floor(turn))
        for which in (0, 1) if turn % 2 == 0 else (1, 0):
            spent[which].append(spend(prepared[which]))
    return Rounds(*spent)


def percentile(values: Sequence[float], share: float) -> float:
    """The smallest value that `share` of all do not exceed (nearest rank)."""
    ordered = sorted(values)
    return ordered[max(0, math.ceil(share * len(ordered)) - 1)]
