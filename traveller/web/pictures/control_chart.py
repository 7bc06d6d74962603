"""The control chart: points in the order they were made, the centre, the limits, and a square where a rule is broken.

Dashes are the limits computed from the process itself, the long dotted lines the drawing's own.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from traveller.web.pictures.ink import (
    CARD,
    DRAWN_INK,
    LINE,
    RULE,
    SOFT,
    STOP,
    Text,
    el,
    num,
    overlap,
    sheet,
    text_width,
)

SMALL = 12
DEEP = 180.0
TOP = 26.0
FOOT = 24.0
LINE_DEEP = 18.0
POINT = 3.6
SQUARE = 7.5


@dataclass(frozen=True)
class Words:
    """What the drawing says; English unless the page brings its own."""

    centre: str = "centre"
    upper: str = "upper limit"
    lower: str = "lower limit"
    most: str = "most allowed"
    least: str = "least allowed"
    number: Callable[[float], str] = field(default="{:.4g}".format)


@dataclass(frozen=True)
class ControlChart:
    """Values with centre and limits by point; `broken`: the rules at a point (from 1); the sentence is read out."""

    values: tuple[float, ...]
    centre: float
    lower: tuple[float, ...]
    upper: tuple[float, ...]
    broken: tuple[tuple[int, tuple[int, ...]], ...]
    sentence: str
    least: float | None = None
    most: float | None = None
    words: Words = field(default_factory=Words)


@dataclass(frozen=True)
class _Plan:
    """Where things lie in px."""

    chart: ControlChart
    width: float
    left: float
    right: float
    low: float
    high: float
    texts: tuple[Text, ...]

    # Rows of words below the numbers, where there is no room at the right.
    rows: int = 0

    @property
    def height(self) -> float:
        return TOP + DEEP + FOOT + LINE_DEEP * self.rows

    def x(self, place: int) -> float:
        """The middle of a point's own stretch."""
        return self.left + (self.right - self.left) * (place + 0.5) / len(self.chart.values)

    def y(self, value: float) -> float:
        return TOP + DEEP * (self.high - value) / (self.high - self.low)


def control_chart(chart: ControlChart, width: float = 1120) -> str:
    """Return the drawing; at a width under 600 px the words stand below it instead of at its right."""
    plan = lay_out(chart, width)
    body = [
        el("path", d=f"M{num(plan.left)} {num(TOP)}V{num(TOP + DEEP)}H{num(plan.right)}", fill="none", stroke=LINE),
        _level(plan, chart.centre, RULE, None, 1.4),
        _steps(plan, chart.upper),
        _steps(plan, chart.lower),
    ]
    body += [_level(plan, end, STOP, "1.5 5", 2.0) for end in (chart.least, chart.most) if end is not None]
    line = "L".join(f"{num(plan.x(place))} {num(plan.y(value))}" for place, value in enumerate(chart.values))
    body.append(el("path", d=f"M{line}", fill="none", stroke=DRAWN_INK, stroke_width=1.4))
    broken = dict(chart.broken)
    for place, value in enumerate(chart.values):
        x, y = plan.x(place), plan.y(value)
        if place + 1 in broken:
            side = 2 * SQUARE
            body.append(
                el("rect", x=x - SQUARE, y=y - SQUARE, width=side, height=side, fill=CARD, stroke=STOP, stroke_width=2)
            )
        body.append(el("circle", cx=x, cy=y, r=POINT, fill=DRAWN_INK))
    body += [text.svg() for text in plan.texts]
    return sheet(plan.width, plan.height, chart.sentence, body)


def lay_out(chart: ControlChart, width: float) -> _Plan:
    """Return the plan with every label inside the sheet and none on another; the most telling come first."""
    ends = [*chart.values, *chart.lower, *chart.upper, chart.centre]
    ends += [end for end in (chart.least, chart.most) if end is not None]
    low, high = min(ends), max(ends)
    room = (high - low) * 0.08 or max(abs(high), 1.0) * 0.1
    words, last = chart.words, len(chart.values) - 1
    levels = [
        (f"{words.centre} {words.number(chart.centre)}", chart.centre),
        (f"{words.upper} {words.number(chart.upper[last])}", chart.upper[last]),
        (f"{words.lower} {words.number(chart.lower[last])}", chart.lower[last]),
    ]
    levels += [(f"{words.most} {words.number(chart.most)}", chart.most)] if chart.most is not None else []
    levels += [(f"{words.least} {words.number(chart.least)}", chart.least)] if chart.least is not None else []
    side = max(text_width(said, SMALL) for said, _ in levels) + 8
    is_wide = width >= 600
    right, rows = (width - side, 0) if is_wide else (width - 6, len(levels))
    plan = _Plan(chart, width, 6, right, low - room, high + room, (), rows)
    texts: list[Text] = []
    for row, (said, value) in enumerate(levels, 1):
        below = TOP + DEEP + FOOT + LINE_DEEP * row - 5
        place = (plan.right + 6, plan.y(value) + 4) if is_wide else (plan.left, below)
        _set(texts, plan, Text(*place, said, SMALL, soft=True))
    for point, rules in chart.broken:
        said = ", ".join(str(rule) for rule in rules)
        x = plan.x(point - 1) - text_width(said, SMALL) / 2
        y = plan.y(chart.values[point - 1]) - SQUARE - 4
        _set(texts, plan, Text(x, y, said, SMALL, bold=True, plate=True), moves=False)
    _numbers(texts, plan)
    return replace(plan, texts=tuple(texts))


def _numbers(texts: list[Text], plan: _Plan) -> None:
    """As many of the points' numbers as have room."""
    many = len(plan.chart.values)
    for place in (0, many - 1, *range(1, many - 1)):
        said = str(place + 1)
        x = plan.x(place) - text_width(said, SMALL) / 2
        _set(texts, plan, Text(x, TOP + DEEP + 16, said, SMALL, soft=True), moves=False)


def _set(texts: list[Text], plan: _Plan, text: Text, *, moves: bool = True) -> None:
    """Set a label where it lies on no other: a little further down or up if it may move, else not at all."""
    for shift in itertools.chain([0.0], *([n * 4.0, -n * 4.0] for n in range(1, 50))) if moves else [0.0]:
        moved = Text(text.x, text.base + shift, text.words, text.size, text.bold, text.soft, text.plate)
        left, top, right, bottom = moved.box
        inside = left >= 0 and top >= 0 and right <= plan.width and bottom <= plan.height
        if inside and not any(overlap(moved.box, other.box) for other in texts):
            texts.append(moved)
            return


def _level(plan: _Plan, value: float, colour: str, dash: str | None, thick: float) -> str:
    y = num(plan.y(value))
    return el(
        "path", d=f"M{num(plan.left)} {y}H{num(plan.right)}", stroke=colour, stroke_width=thick, stroke_dasharray=dash
    )


def _steps(plan: _Plan, limits: Sequence[float]) -> str:
    """A limit by point as stairs: where the samples differ in size, so do their limits."""
    half = (plan.right - plan.left) / len(limits) / 2
    way = "L".join(
        f"{num(plan.x(place) - half)} {num(plan.y(limit))}L{num(plan.x(place) + half)} {num(plan.y(limit))}"
        for place, limit in enumerate(limits)
    )
    return el("path", d=f"M{way}", fill="none", stroke=SOFT, stroke_width=1.4, stroke_dasharray="7 4")
