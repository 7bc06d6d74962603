"""A temperature log drawn small: its line broken at gaps, limits dashed, the load's own time between uprights."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from traveller.paper import words
from traveller.paper.canvas import QUIET_INK, RULE_INK, Align, PaperSheet
from traveller.rules.moments import later, on_clocks

HEIGHT_MM = 42.0
LABEL_MM = 16.0
DASH_MM = 1.6
STEPS_C = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)


@dataclass(frozen=True, slots=True)
class LogPicture:
    """`lines`: unbroken pieces of (seconds since `start`, degrees C); `limits`: label and degrees C.

    `start` carries the zone of the site; `load` is when the load went in and came out, in seconds too.
    """

    start: datetime
    seconds: float
    lines: tuple[tuple[tuple[float, float], ...], ...]
    limits: tuple[tuple[str, float], ...] = ()
    load: tuple[float, float] | None = None

    def span(self) -> tuple[float, float]:
        """The lowest and highest degrees that the picture must hold, with some room."""
        all_c = [c for line in self.lines for _, c in line] + [c for _, c in self.limits]
        low, high = min(all_c), max(all_c)
        room = max((high - low) * 0.08, 1.0)
        return low - room, high + room


def draw_log(sheet: PaperSheet, content: LogPicture, x: float, top: float, width: float) -> None:
    """The picture with its axes, HEIGHT_MM high."""
    left, right, upper, lower = x + LABEL_MM, x + width - 24, top + 2, top + HEIGHT_MM - 6
    low, high = content.span()

    def across(seconds: float) -> float:
        return left + (right - left) * min(max(seconds / (content.seconds or 1.0), 0.0), 1.0)

    def down(c: float) -> float:
        return lower - (lower - upper) * (c - low) / (high - low)

    for c in _ticks(low, high):
        sheet.rule(left, down(c), right - left, pt=0.25, ink=RULE_INK)
        sheet.text(left - 1.5, down(c) + 0.9, f"{c:g} °C", pt=6.5, ink=QUIET_INK, align="right")
    sheet.rule(left, lower, right - left, pt=0.5)
    ends: tuple[tuple[float, Align], ...] = ((0.0, "left"), (0.5, "centre"), (1.0, "right"))
    for part, align in ends:
        # In UTC and back, so that a clock change on the way is told as the site's clock told it.
        at = later(on_clocks(content.start, UTC), timedelta(seconds=content.seconds * part))
        when = on_clocks(at, content.start.tzinfo or UTC)
        said = words.moment_on_paper(when) if part == 0 else words.clock_on_paper(when)
        sheet.text(across(content.seconds * part), lower + 4, said, pt=6.5, ink=QUIET_INK, align=align)
    for moment in content.load or ():
        if 0 <= moment <= content.seconds:
            sheet.line(across(moment), upper, across(moment), lower, pt=0.9)
    _draw_limits(sheet, content, left, right, down)
    for line in content.lines:
        for (a, ca), (b, cb) in itertools.pairwise(line):
            sheet.line(across(a), down(ca), across(b), down(cb), pt=0.7)
        if len(line) == 1:
            sheet.line(across(line[0][0]) - 0.2, down(line[0][1]), across(line[0][0]) + 0.2, down(line[0][1]), pt=0.9)


def _draw_limits(
    sheet: PaperSheet, content: LogPicture, left: float, right: float, down: Callable[[float], float]
) -> None:
    """Dashes with their words at the right; words too near to each other move apart."""
    last = math.inf
    for label, c in sorted(content.limits, key=lambda limit: limit[1]):
        y, at = down(c), left
        while at < right:
            sheet.line(at, y, min(at + DASH_MM, right), y, pt=0.8)
            at += 2 * DASH_MM
        base = min(y + 0.9, last - 2.8)
        sheet.fitted(right + 1.5, base, label, width=22, pt=6.5, least_pt=5)
        last = base


def _ticks(low: float, high: float) -> list[float]:
    """Three to six round degrees between the ends."""
    step = next((step for step in STEPS_C if (high - low) / step <= 5), STEPS_C[-1])
    first = math.ceil(low / step) * step
    return [first + step * n for n in range(int((high - first) // step) + 1)]
