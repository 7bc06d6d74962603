"""What is wrong with the readings: order, repeats, gaps, impossible values, each named by line."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from traveller.rules.logs.found import Fault, Floats, LogFigure
from traveller.rules.logs.moments import Bools, Ints
from traveller.rules.logs.values import HIGHEST_C, LOWEST_C

__all__ = ["MOST_NAMED", "Faults", "Readings", "drop_impossible", "falls", "name_gaps", "put_in_order"]

# Who reads a page does not read a thousand lines; how many there are is said beside.
MOST_NAMED = 50
# A clock that shows minutes gives several readings one time: said once, not line by line.
_COARSE_SHARE, _COARSE_LEAST = 0.2, 20
_GAP_FACTOR = 2.5


@dataclass
class Faults:
    """The first faults of each code, and how many there are of all."""

    first: list[Fault] = field(default_factory=list)
    count: int = 0

    def add(self, code: str, lines: Ints, figures: Callable[[int], Mapping[str, LogFigure]] = lambda place: {}) -> None:
        """One fault a line; `figures` gets the place in `lines`."""
        self.count += len(lines)
        named = lines[:MOST_NAMED].tolist()
        self.first += [Fault(code, line, figures(place)) for place, line in enumerate(named)]

    def sorted(self) -> tuple[Fault, ...]:
        """In the order of the file."""
        return tuple(sorted(self.first, key=lambda fault: fault.line))


@dataclass(frozen=True, eq=False)
class Readings:
    """Times (UTC seconds), degrees C and the line of each."""

    times: Floats
    celsius: Floats
    lines: Ints

    def where(self, kept: Bools | Ints) -> Readings:
        """Some of them."""
        return Readings(self.times[kept], self.celsius[kept], self.lines[kept])


def drop_impossible(found: Readings, faults: Faults) -> Readings:
    """Without the readings that no oven gives; a broken sensor is not evidence of any temperature."""
    fine = (found.celsius >= LOWEST_C) & (found.celsius <= HIGHEST_C)
    if fine.all():
        return found
    unread = found.where(~np.isfinite(found.celsius))
    wild = found.where(~fine & np.isfinite(found.celsius))
    faults.add("log.not_a_number", unread.lines)
    faults.add("log.impossible", wild.lines, lambda place: {"value_c": f"{float(wild.celsius[place]):g}"})
    return found.where(fine)


def falls(times: Floats) -> bool:
    """Whether a file was written newest first: more of its steps go back than forward."""
    steps = np.diff(times)
    return bool((steps < 0).sum() > (steps > 0).sum())


def put_in_order(found: Readings, faults: Faults) -> tuple[Readings, bool]:
    """Oldest first, repeats once; True when the file was written newest first.

    Two values at one time both stay: the line drawn through them is upright, so neither the lower nor
    the higher of them is lost.
    """
    newest_first = falls(found.times)
    if newest_first:
        found = found.where(np.arange(found.times.size)[::-1])
    if (np.diff(found.times) < 0).any():
        # Late is what lies before something that was already there.
        behind = found.times < np.maximum.accumulate(found.times)
        faults.add("log.out_of_order", found.lines[behind])
        found = found.where(np.argsort(found.times, kind="stable"))
    same = np.diff(found.times) == 0
    if not same.any():
        return found, newest_first
    repeats = same & (np.diff(found.celsius) == 0)
    if same.size > _COARSE_LEAST and same.mean() > _COARSE_SHARE:
        faults.add("log.coarse_clock", found.lines[1:][same][:1])
    else:
        _name_twins("log.repeated", found, repeats, faults)
        _name_twins("log.two_values", found, same & ~repeats, faults)
    return found.where(np.concatenate(([True], ~repeats))), newest_first


def _name_twins(code: str, found: Readings, rows: Bools, faults: Faults) -> None:
    """Readings at the time of the one before."""
    before = found.lines[:-1][rows]
    faults.add(code, found.lines[1:][rows], lambda place: {"other_line": int(before[place])})


def name_gaps(found: Readings, interval_s: float, faults: Faults) -> None:
    """Pauses of more than twice and a half the usual interval; what a check allows is its own matter."""
    steps = np.diff(found.times)
    wide = np.flatnonzero(steps > _GAP_FACTOR * interval_s) if interval_s > 0 else np.zeros(0, np.int64)
    lengths = steps[wide]
    faults.add("log.gap", found.lines[wide + 1], lambda place: {"seconds": f"{float(lengths[place]):g}"})
