"""Was it hot long enough? Time at or above a temperature, a straight line between readings, gaps left out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

__all__ = ["HAIR_C", "HAIR_S", "Held", "Trace", "held", "part_of", "trace"]

Floats: TypeAlias = NDArray[np.float64]

# What binary fractions of a degree and of a second may lose on the way; far below any logger.
HAIR_C = 1e-9
HAIR_S = 1e-6


@dataclass(frozen=True, eq=False)
class Trace:
    """Readings of one load: seconds, oldest first, degrees C, and where nothing is known for too long.

    `gaps` are spans in seconds within the span asked for that no two readings close enough together cover.
    """

    seconds: Floats
    celsius: Floats
    gap_s: float
    gaps: tuple[tuple[float, float], ...] = ()

    @property
    def live(self) -> NDArray[np.bool_]:
        """Whether the piece after each reading but the last may be taken as a straight line."""
        return np.diff(self.seconds) <= self.gap_s + HAIR_S

    @property
    def longest_gap_s(self) -> float:
        """The longest span of which nothing is known."""
        return max((end - start for start, end in self.gaps), default=0.0)


def trace(seconds: Floats, celsius: Floats, gap_s: float) -> Trace:
    """A whole log as one trace."""
    if seconds.size != celsius.size or not seconds.size:
        raise ValueError("a trace has as many times as temperatures, and at least one")
    if (np.diff(seconds) < 0).any():
        raise ValueError("a trace is ordered by time")
    found = Trace(seconds, celsius, gap_s)
    dead = np.flatnonzero(~found.live)
    gaps = tuple((float(seconds[row]), float(seconds[row + 1])) for row in dead.tolist())
    return Trace(seconds, celsius, gap_s, gaps)


def part_of(whole: Trace, start: float, end: float) -> Trace | None:
    """What the readings say from `start` to `end`, with the straight line cut there; None: nothing at all.

    A beginning or an end further from the nearest reading than the allowed gap is a gap too.
    """
    seconds, celsius = whole.seconds, whole.celsius
    if end < start or end < seconds[0] or start > seconds[-1]:
        return None
    first, last = np.searchsorted(seconds, start, "left"), np.searchsorted(seconds, end, "right")
    times, values = seconds[first:last], celsius[first:last]
    for edge, place in ((start, int(first)), (end, int(last))):
        inside = 0 < place < seconds.size and seconds[place - 1] < edge < seconds[place]
        if inside and seconds[place] - seconds[place - 1] <= whole.gap_s + HAIR_S:
            at = float(np.interp(edge, seconds[place - 1 : place + 1], celsius[place - 1 : place + 1]))
            left = edge == start
            times = np.concatenate(([edge], times) if left else (times, [edge]))
            values = np.concatenate(([at], values) if left else (values, [at]))
    if not times.size:
        return None
    found = trace(times, values, whole.gap_s)
    ends = [(start, float(times[0])), (float(times[-1]), end)]
    gaps = [span for span in ends if span[1] - span[0] > whole.gap_s + HAIR_S]
    return Trace(times, values, whole.gap_s, tuple(sorted([*found.gaps, *gaps])))


@dataclass(frozen=True)
class Held:
    """Seconds at or above the temperature: the longest unbroken and all together; the extremes in degrees C."""

    longest_s: float
    total_s: float
    reached_at: float | None
    lowest_c: float
    highest_c: float


def held(found: Trace, least_c: float) -> Held:
    """How long it was at least so hot; no gap counts, and no stretch goes on behind one."""
    lowest, highest = float(found.celsius.min()), float(found.celsius.max())
    above = found.celsius - least_c
    above = np.where(np.abs(above) <= HAIR_C, 0.0, above)
    pieces = np.diff(found.seconds)
    if not pieces.size:
        return Held(0.0, 0.0, float(found.seconds[0]) if above[0] >= 0 else None, lowest, highest)
    before, after = above[:-1], above[1:]
    spread = np.abs(before) + np.abs(after)
    # The share of a piece that lies above: all, none, or up to where the straight line crosses.
    crossed = np.maximum(before, after) / np.where(spread > 0, spread, 1.0)
    share = np.where((before >= 0) & (after >= 0), 1.0, np.where((before < 0) & (after < 0), 0.0, crossed))
    live = found.live
    seconds = np.where(live, pieces * share, 0.0)
    starts = np.concatenate(([True], (before[1:] < 0) | ~live[:-1]))
    runs = np.add.reduceat(seconds, np.flatnonzero(starts))
    hot = np.flatnonzero(above >= 0)
    reached = None
    if hot.size:
        row = int(hot[0])
        reached = float(found.seconds[row])
        if row and live[row - 1]:
            reached -= float(seconds[row - 1])
    return Held(float(runs.max()), float(seconds.sum()), reached, lowest, highest)
