"""The picture of a temperature log: the line, its limits, when the load was in, what was reached, where it is silent.

The line is drawn with a few hundred points; each stretch keeps its lowest and its highest reading, so that no
peak that a check has seen is missing from the picture.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo

from traveller.rules.moments import on_clocks
from traveller.web.pictures.ink import (
    CARD,
    DRAWN_INK,
    LINE,
    RULE,
    SHADE,
    SOFT,
    STOP,
    Text,
    el,
    fit_text,
    num,
    overlap,
    sheet,
    text_width,
)

POINTS_MOST = 600
SIZE = 12
LEFT, RIGHT, ROW, TALL = 44.0, 10.0, 16.0, 200.0
_DASHED: dict[str, int | str] = {"stroke_width": 2, "stroke_dasharray": "6 4"}
_STEPS_S = (60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400, 172800, 604800)


@dataclass(frozen=True)
class LimitDrawn:
    """A temperature that counts, in degrees C, and its words."""

    celsius: float
    words: str
    never_above: bool = False


@dataclass(frozen=True)
class Span:
    """From and to in seconds since 1970, with words of its own where it has any."""

    start: float
    end: float
    words: str = ""


@dataclass(frozen=True)
class Moment:
    """Something that happened at a second: in, out, cured."""

    at: float
    words: str


@dataclass(frozen=True)
class Words:
    """What the drawing says; English unless the page brings its own."""

    degrees: str = "°C"
    silent: str = "nothing read"
    clock: Callable[[datetime], str] = field(default=lambda at: f"{at:%H:%M}")
    day: Callable[[datetime], str] = field(default=lambda at: f"{at.day} {at:%b}")


@dataclass(frozen=True)
class LogChart:
    """Readings of one channel, oldest first; `reached` is hatched, `gaps` are breaks in the line."""

    seconds: Sequence[float]
    celsius: Sequence[float]
    sentence: str
    limits: tuple[LimitDrawn, ...] = ()
    moments: tuple[Moment, ...] = ()
    reached: tuple[Span, ...] = ()
    reached_words: str = ""
    gaps: tuple[Span, ...] = ()
    verdict: str = ""
    zone: tzinfo = UTC
    words: Words = field(default_factory=Words)
    # How hot it was inside, computed: a line of points for each load, dashed, and what it is.
    middles: tuple[Sequence[tuple[float, float]], ...] = ()
    middle_words: str = ""


Point = tuple[float, float]


def thinned(points: Sequence[Point], most: int = POINTS_MOST) -> list[Point]:
    """At most about `most` points: of each stretch its first, lowest, highest and last, in their order."""
    if len(points) <= most:
        return list(points)
    wide = math.ceil(len(points) / max(1, most // 4))
    kept: list[Point] = []
    for start in range(0, len(points), wide):
        rows = range(start, min(start + wide, len(points)))
        low, high = min(rows, key=lambda n: points[n][1]), max(rows, key=lambda n: points[n][1])
        kept += [points[n] for n in sorted({rows[0], low, high, rows[-1]})]
    return kept


def stretches(chart: LogChart) -> list[list[Point]]:
    """The line between its gaps, thinned so that all together stay near the most."""
    points = list(zip(map(float, chart.seconds), map(float, chart.celsius), strict=True))
    ends = sorted(gap.start for gap in chart.gaps)
    parts: list[list[Point]] = [[]]
    place = 0
    for point in points:
        while place < len(ends) and point[0] > ends[place]:
            place += 1
            if parts[-1]:
                parts.append([])
        parts[-1].append(point)
    return [thinned(part, max(8, POINTS_MOST * len(part) // max(1, len(points)))) for part in parts if part]


@dataclass
class _Plan:
    """The scales, and the labels that are set so far."""

    first: float
    last: float
    low: float
    high: float
    width: float
    top: float
    texts: list[Text] = field(default_factory=list)

    def x(self, second: float) -> float:
        share = (second - self.first) / max(self.last - self.first, 1e-9)
        return LEFT + min(max(share, 0.0), 1.0) * (self.width - LEFT - RIGHT)

    def y(self, celsius: float) -> float:
        return self.top + TALL - (celsius - self.low) / (self.high - self.low) * TALL

    def say(
        self, x: float, base: float, words: str, *, down: float = 0.0, soft: bool = False, must: bool = True
    ) -> None:
        """Set a label inside the sheet; moved down while another lies there, or left out where it need not be."""
        room = text_width(words, SIZE)
        text = Text(min(max(x, 0.0), max(self.width - room - 2, 0.0)), base, words, SIZE, soft=soft, plate=True)
        for _ in range(6):
            if not any(overlap(text.box, other.box) for other in self.texts):
                self.texts.append(text)
                return
            if not down:
                break
            text = Text(text.x, text.base + down, words, SIZE, soft=soft, plate=True)
        if must:
            self.texts.append(text)


def log_chart(chart: LogChart, width: float = 1120, prefix: str = "log") -> str:
    """Return the drawing; `prefix` must differ between two charts on one page."""
    head = _wrapped(chart.verdict, width - 4)
    marks = sorted(chart.moments, key=lambda moment: moment.at)
    top = len(head) * ROW + 8 + ROW * _rows(marks, width)
    low, high = _bounds(chart)
    edges = [*map(float, chart.seconds[:1]), *map(float, chart.seconds[-1:]), *(mark.at for mark in marks)]
    plan = _Plan(min(edges, default=0.0), max(edges, default=1.0), low, high, width, top)
    plan.texts += [Text(0, ROW * (n + 1) - 4, line, SIZE + 1, bold=True) for n, line in enumerate(head)]
    lines = stretches(chart)
    body = [_hatch(prefix), el("rect", x=LEFT, y=top, width=width - LEFT - RIGHT, height=TALL, fill=CARD, stroke=LINE)]
    body += _axes(plan, chart)
    body += [_reached(plan, chart, lines, span, prefix) for span in chart.reached]
    body += _limits(plan, chart)
    body += _gaps(plan, chart)
    for line in lines:
        path = "M" + "L".join(f"{num(plan.x(x))} {num(plan.y(y))}" for x, y in line)
        body.append(el("path", d=path, fill="none", stroke=RULE, stroke_width=2, stroke_linejoin="round"))
        if len(line) == 1:
            body.append(el("circle", cx=plan.x(line[0][0]), cy=plan.y(line[0][1]), r=2.5, fill=RULE))
    body += [_middle(plan, points) for points in chart.middles]
    body += _moments(plan, marks, len(head) * ROW)
    height = top + TALL + 22
    if chart.reached_words:
        swatch = el("rect", x=LEFT, y=height + 4, width=22, height=11, fill=f"url(#{prefix}-reached)", stroke=DRAWN_INK)
        body.append(swatch)
        for line_words in _wrapped(chart.reached_words, width - LEFT - 32):
            plan.texts.append(Text(LEFT + 30, height + 14, line_words, SIZE))
            height += ROW
        height += 4
    if chart.middle_words:
        body.append(el("path", d=f"M{num(LEFT)} {num(height + 10)}h22", stroke=DRAWN_INK, **_DASHED))
        plan.texts.append(Text(LEFT + 30, height + 14, fit_text(chart.middle_words, width - LEFT - 32, SIZE), SIZE))
        height += ROW + 4
    body += [text.svg() for text in plan.texts]
    return sheet(width, height + 4, chart.sentence, body)


def _middle(plan: _Plan, points: Sequence[Point]) -> str:
    """Dashed, so that nobody takes it for what a probe has read."""
    path = "M" + "L".join(f"{num(plan.x(x))} {num(plan.y(y))}" for x, y in thinned(points))
    return el("path", d=path, fill="none", stroke=DRAWN_INK, stroke_linejoin="round", **_DASHED)


def _wrapped(words: str, room: float) -> list[str]:
    """Words in as many lines as they need, two at most."""
    lines: list[str] = []
    for word in words.split():
        if lines and text_width(f"{lines[-1]} {word}", SIZE + 1) * 1.08 <= room:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines[:2] if len(lines) <= 2 else [lines[0], fit_text(" ".join(lines[1:]), room / 1.08, SIZE + 1)]


def _rows(marks: Sequence[Moment], width: float) -> int:
    """How many rows the words of moments may need; a narrow sheet stacks them."""
    return min(3, max(1, math.ceil(sum(text_width(m.words, SIZE) + 12 for m in marks) / max(width - LEFT, 1)) + 1))


def _bounds(chart: LogChart) -> tuple[float, float]:
    """The lowest and highest temperature of the scale, with air above and below."""
    inside = (celsius for points in chart.middles for _, celsius in points)
    reported = [*map(float, chart.celsius), *(limit.celsius for limit in chart.limits), *inside]
    low, high = min(reported, default=0.0), max(reported, default=1.0)
    air = max((high - low) * 0.08, 1.0)
    return low - air, high + air


def _hatch(prefix: str) -> str:
    stripes = el("path", d="M0 7L7 0", stroke=RULE, stroke_width=1)
    return el("defs", el("pattern", stripes, id=f"{prefix}-reached", width=7, height=7, patternUnits="userSpaceOnUse"))


def _axes(plan: _Plan, chart: LogChart) -> list[str]:
    body = []
    step = _nice((plan.high - plan.low) / 5)
    value = math.ceil(plan.low / step) * step
    while value <= plan.high:
        y = plan.y(value)
        body.append(el("path", d=f"M{num(LEFT)} {num(y)}H{num(plan.width - RIGHT)}", stroke=SHADE))
        label = f"{value:g}"
        plan.texts.append(Text(LEFT - 6 - text_width(label, SIZE), y + 4, label, SIZE, soft=True))
        value += step
    plan.texts.append(Text(0, plan.top - 12, chart.words.degrees, SIZE, soft=True))
    span = max(plan.last - plan.first, 1.0)
    wanted = span / max(2, int((plan.width - LEFT) // 90))
    apart = next((s for s in _STEPS_S if s >= wanted), math.ceil(wanted / 604800) * 604800)
    offset = _offset(plan.first, chart.zone)
    at = math.ceil((plan.first + offset) / apart) * apart - offset
    base = plan.top + TALL
    while at <= plan.last:
        when = on_clocks(datetime.fromtimestamp(at, UTC), chart.zone)
        words = chart.words.day(when) if apart >= 86400 else chart.words.clock(when)
        body.append(el("path", d=f"M{num(plan.x(at))} {num(base)}v5", stroke=SOFT))
        plan.say(plan.x(at) - text_width(words, SIZE) / 2, base + 17, words, soft=True, must=False)
        at += apart
    return body


def _offset(second: float, zone: tzinfo) -> float:
    """Seconds east of Greenwich: ticks stand at round times of the site's clock."""
    found = on_clocks(datetime.fromtimestamp(second, UTC), zone).utcoffset()
    return found.total_seconds() if found else 0.0


def _nice(step: float) -> float:
    """1, 2 or 5 times a power of ten, not less than the step."""
    power = 10.0 ** math.floor(math.log10(max(step, 1e-6)))
    return next(power * n for n in (1, 2, 5, 10) if power * n >= step)


def _limits(plan: _Plan, chart: LogChart) -> list[str]:
    body = []
    for limit in sorted(chart.limits, key=lambda one: -one.celsius):
        y = plan.y(limit.celsius)
        ink = STOP if limit.never_above else DRAWN_INK
        dash = "2 3" if limit.never_above else "8 4"
        body.append(el("path", d=f"M{num(LEFT)} {num(y)}H{num(plan.width - RIGHT)}", stroke=ink, stroke_width=1.5,
                       stroke_dasharray=dash))  # fmt: skip
        words = fit_text(limit.words, plan.width - LEFT - RIGHT - 8, SIZE)
        base = y - 4 if limit.never_above else y + 14
        plan.say(plan.width - RIGHT - 4 - text_width(words, SIZE), base, words, down=14)
    return body


def _reached(plan: _Plan, chart: LogChart, lines: list[list[Point]], span: Span, prefix: str) -> str:
    """What lies between the line and the temperature that counts, from and to when it was that hot."""
    counts = [limit.celsius for limit in chart.limits if not limit.never_above]
    floor = plan.y(counts[0]) if counts else plan.top + TALL
    inside = [(x, y) for line in lines for x, y in line if span.start <= x <= span.end]
    path = f"M{num(plan.x(span.start))} {num(floor)}"
    path += "".join(f"L{num(plan.x(x))} {num(min(plan.y(y), floor))}" for x, y in inside)
    path += f"L{num(plan.x(span.end))} {num(floor)}Z"
    return el("path", d=path, fill=f"url(#{prefix}-reached)")


def _gaps(plan: _Plan, chart: LogChart) -> list[str]:
    body = []
    for gap in chart.gaps:
        left, right = plan.x(gap.start), plan.x(gap.end)
        wide = max(right - left, 2.0)
        body.append(
            el("rect", x=left, y=plan.top, width=wide, height=TALL, fill=SHADE, stroke=SOFT, stroke_dasharray="3 3")
        )
        words = fit_text(gap.words or chart.words.silent, plan.width - LEFT - RIGHT, SIZE)
        plan.say((left + right) / 2 - text_width(words, SIZE) / 2, plan.top + TALL - 8, words, down=-14, must=False)
    return body


def _moments(plan: _Plan, marks: Sequence[Moment], above: float) -> list[str]:
    """An upright line each, its words above the plot."""
    body = []
    for mark in marks:
        x = plan.x(mark.at)
        body.append(
            el("path", d=f"M{num(x)} {num(plan.top)}V{num(plan.top + TALL)}", stroke=DRAWN_INK, stroke_width=1.5)
        )
        words = fit_text(mark.words, plan.width - LEFT, SIZE)
        plan.say(max(x - text_width(words, SIZE) / 2, LEFT), above + 14, words, down=ROW)
    return body
