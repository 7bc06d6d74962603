"""The line graph: a level line waits or is worked on, a steep one travels; thickness is good pieces.

A stub down is scrap, a hatched knot a hold, dashes a forecast, a gap silence; the dark red upright is the promise.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from traveller.rules.moments import later, on_clocks
from traveller.web.pictures.ink import (
    CARD,
    DRAWN_INK,
    LINE,
    SERIES,
    SHADE,
    STOP,
    Text,
    el,
    hatches,
    num,
    sheet,
    text_width,
)
from traveller.web.pictures.line_data import LineEvent, LineGraph, Point, Silence, Trip, Words
from traveller.web.pictures.line_layout import SMALL, THICKEST, LineLayout, lay_out, run_on

__all__ = ["LineEvent", "LineGraph", "Point", "Silence", "Trip", "Words", "line_graph", "strokes"]

# More lines than this can't be told apart; the table beside the drawing has them all.
TRIPS_MOST = 9
STEPS_D = (1, 7, 14, 28, 56, 91, 182, 364)


@dataclass(frozen=True)
class Stroke:
    """One straight piece of a trip's line in px."""

    x1: float
    y1: float
    x2: float
    y2: float
    thick: float
    forecast: bool = False
    silent: bool = False


def line_graph(graph: LineGraph, width: float = 1120, prefix: str = "line") -> str:
    """Return the drawing; at a width under 600 px it is the phone's, with site names above the bands."""
    graph = _largest(graph)
    plan = lay_out(graph, width)
    body = [hatches(prefix, ["held"] if any(trip.holds for trip in graph.trips) else [])]
    body += [*_closed(plan), *_days(plan), *_rules(plan)]
    for number in range(len(graph.trips)):
        body += _way(plan, number)
    body += _uprights(plan)
    for stay in plan.stays:
        for note in stay.notes:
            body.append(_mark(note.kind, note.x, stay.y, note.row, prefix))
    body += [text.svg() for text in plan.texts]
    return sheet(plan.width, plan.height, graph.sentence, body)


def _largest(graph: LineGraph) -> LineGraph:
    """The trips with most pieces, in their order."""
    kept = sorted(graph.trips, key=lambda trip: -max((point.good for point in trip.points), default=0))[:TRIPS_MOST]
    return replace(graph, trips=tuple(trip for trip in graph.trips if trip in kept))


def _midnight(plan: LineLayout, day: date) -> datetime:
    return datetime.combine(day, time(), plan.graph.zone)


def _closed(plan: LineLayout) -> list[str]:
    """Shade the days on which nobody works."""
    shades = []
    for day in sorted(plan.graph.closed):
        left = max(plan.x(_midnight(plan, day)), plan.left)
        right = min(plan.x(_midnight(plan, later(day, timedelta(1)))), plan.width)
        if right > left:
            shades.append(el("rect", x=left, y=plan.top, width=right - left, height=plan.foot - plan.top, fill=SHADE))
    return shades


def _days(plan: LineLayout) -> list[str]:
    """Rule and name as many days as have room; weeks begin on Monday."""
    day = on_clocks(plan.first, plan.graph.zone).date()
    end = on_clocks(plan.last, plan.graph.zone).date()
    per_day = (plan.width - plan.left) / ((plan.last - plan.first) / timedelta(1))
    need = max(text_width(plan.graph.words.day(d), SMALL) for d in (day, end)) + 22
    step = next((s for s in STEPS_D if s * per_day >= need), math.ceil(need / per_day))
    day = later(day, timedelta((-day.weekday()) % 7 if step >= 7 else 1))
    lines = []
    while day < end or (day == end and day < date.max):
        x, words = plan.x(_midnight(plan, day)), plan.graph.words.day(day)
        if plan.left <= x and x + 3 + text_width(words, SMALL) <= plan.width:
            plan.texts.append(Text(x + 3, plan.top - 10, words, SMALL, soft=True))
        if plan.left <= x <= plan.width:
            lines.append(el("path", d=f"M{num(x)} {num(plan.top - 20)}V{num(plan.foot)}", stroke=LINE))
        day = later(day, timedelta(step))
    return lines


def _rules(plan: LineLayout) -> list[str]:
    """Return the hairlines between sites; the last is inked, like the foot of a table."""
    edges = [plan.top, *(bottom for _, bottom in plan.bands)]
    return [
        el("path", d=f"M0 {num(y)}H{num(plan.width)}", stroke=DRAWN_INK if y in (edges[0], edges[-1]) else LINE)
        for y in edges
    ]


def thickness(good: int, most: int) -> float:
    """Return a line's thickness in px, proportional to its good pieces, thin but seen when few."""
    return max(THICKEST * good / most, 1.6) if most > 0 else 1.6


def strokes(plan: LineLayout, number: int) -> list[Stroke]:
    """Return a trip's line as straight pieces, cut at its silences."""
    trip = plan.graph.trips[number]
    most = max((p.good for t in plan.graph.trips for p in (*t.points, *t.forecast)), default=1)
    reported = run_on(trip, plan.graph.now)
    way = (*reported, *trip.forecast)
    pieces: list[Stroke] = []
    for place, (a, b) in enumerate(itertools.pairwise(way)):
        ya, yb = _height(plan, number, a, first=place == 0), _height(plan, number, b, last=place == len(way) - 2)
        thick, guess = thickness(a.good, most), place >= len(reported) - 1
        for start, end, silent in _cut(a.at, b.at, () if guess else trip.silences):
            share = [(t - a.at) / (b.at - a.at) if b.at > a.at else float(t is end) for t in (start, end)]
            ys = [ya + (yb - ya) * s for s in share]
            pieces.append(Stroke(plan.x(start), ys[0], plan.x(end), ys[1], thick, guess, silent))
    return pieces


def _height(plan: LineLayout, number: int, point: Point, *, first: bool = False, last: bool = False) -> float:
    """Return a point's place down: on its own lane, or on the line that it leaves or joins."""
    trip = plan.graph.trips[number]
    keys = {t.key: n for n, t in enumerate(plan.graph.trips)}
    other = trip.branch_of if first else trip.joins if last else None
    if other in keys and (met := plan.stay_at(keys[other], point.site, point.at)):
        return met.y
    own = plan.stay_at(number, point.site, point.at)
    top, bottom = plan.bands[point.site]
    return own.y if own else (top + bottom) / 2


def _cut(start: datetime, end: datetime, silences: tuple[Silence, ...]) -> list[tuple[datetime, datetime, bool]]:
    """Return a span cut into heard and silent parts."""
    parts, at = [], start
    for gap in sorted(silences, key=lambda g: g.start):
        a, b = max(gap.start, at), min(gap.end, end)
        if a < b:
            parts += [(at, a, False)] if a > at else []
            parts.append((a, b, True))
            at = b
    return [*parts, (at, end, False)] if at < end or not parts else parts


def _way(plan: LineLayout, number: int) -> list[str]:
    """Return a trip's line over a rim of paper, so that a crossing reads as over and under."""
    colour, drawn = SERIES[number % len(SERIES)], strokes(plan, number)
    rims, lines = [], []
    for s in drawn:
        d = f"M{num(s.x1)} {num(s.y1)}L{num(s.x2)} {num(s.y2)}"
        if s.silent:
            lines.append(
                el("path", d=d, stroke=colour, stroke_width=1.6, stroke_dasharray="1 5", stroke_linecap="round")
            )
            continue
        if s.y1 != s.y2:
            rims.append(el("path", d=d, stroke=CARD, stroke_width=s.thick + 4))
        dash = "9 6" if s.forecast else None
        cap = None if s.forecast else "round"
        lines.append(el("path", d=d, stroke=colour, stroke_width=s.thick, stroke_dasharray=dash, stroke_linecap=cap))
    return rims + lines


def _uprights(plan: LineLayout) -> list[str]:
    """Return the lines of now and of the promise."""
    now = num(plan.x(plan.graph.now))
    lines = [el("path", d=f"M{now} {num(plan.top)}V{num(plan.foot + 5)}", stroke=DRAWN_INK, stroke_width=1.5)]
    if plan.graph.promise:
        x = num(plan.x(plan.graph.promise))
        lines.append(el("path", d=f"M{x} {num(plan.top)}V{num(plan.foot + 5)}", stroke=STOP, stroke_width=3))
    return lines


def _mark(kind: str, x: float, y: float, row: int, prefix: str) -> str:
    """Return a scrap stub down to its words, or the hatched knot of a hold."""
    if kind == "hold":
        return el(
            "rect",
            x=x - 7.5,
            y=y - 7.5,
            width=15,
            height=15,
            fill=f"url(#{prefix}-held)",
            stroke=DRAWN_INK,
            stroke_width=2,
        )
    if kind == "scrap":
        return el("path", d=f"M{num(x)} {num(y)}v{num(THICKEST / 2 + 13 + 16 * row)}", stroke=DRAWN_INK, stroke_width=4)
    return ""
