"""Where everything in a line graph lies.

Labels never collide by construction: a stay at a site claims the room of its line and of all its words, and two
stays share a lane only when their rooms lie apart. A site's band grows with its lanes.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta

from traveller.rules.moments import later, on_clocks
from traveller.web.pictures.ink import Text, fit_text, text_width
from traveller.web.pictures.line_data import LineEvent, LineGraph, Point, Trip

THICKEST = 9.0
SIZE = 13
SMALL = 12
_ROW = 16
MARK_ROOM = 12


@dataclass
class Note:
    """A scrap stub, a hold or a silence under a line, with its words on a row of the lane."""

    kind: str
    x: float
    words: str
    text_x: float = 0
    row: int = 0


@dataclass
class Stay:
    """A trip's time at one site, with the room it claims across (px)."""

    trip: int
    site: int
    start: datetime
    end: datetime
    label: str = ""
    label_x: float = 0
    notes: list[Note] = field(default_factory=list)
    left: float = 0
    right: float = 0
    lane: int = 0
    y: float = 0

    @property
    def rows(self) -> int:
        """Return how many rows of notes stand under the line."""
        return max((note.row + 1 for note in self.notes), default=0)


@dataclass
class LineLayout:
    """The laid-out graph: stays with their heights, bands, and all words with their boxes."""

    graph: LineGraph
    width: float
    left: float
    first: datetime
    last: datetime
    top: float = 30
    foot: float = 0
    height: float = 0
    stays: list[Stay] = field(default_factory=list)
    bands: list[tuple[float, float]] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)

    @property
    def narrow(self) -> bool:
        """Return whether this is the phone's drawing."""
        return self.width < 600

    def x(self, at: datetime) -> float:
        """Return a moment's place across."""
        return self.left + (at - self.first) / (self.last - self.first) * (self.width - self.left - 6)

    def stay_at(self, trip: int, site: int, at: datetime) -> Stay | None:
        """Return a trip's stay at a site at a moment, or its nearest one there."""
        there = [stay for stay in self.stays if stay.trip == trip and stay.site == site]
        return min(there, key=lambda stay: max(stay.start - at, at - stay.end, timedelta()), default=None)


def run_on(trip: Trip, now: datetime) -> tuple[Point, ...]:
    """Return a trip's told points, run on to now where it has not ended."""
    last = trip.points[-1] if trip.points else None
    if last is None or trip.ended or last.at >= now:
        return trip.points
    return (*trip.points, Point(now, last.site, last.good))


def lay_out(graph: LineGraph, width: float = 1120) -> LineLayout:
    """Return the places of lines and labels; a narrow drawing sets each site's name above its band."""
    moments = [p.at for trip in graph.trips for p in (*trip.points, *trip.forecast)] + [graph.now]
    moments += [graph.promise] if graph.promise else []
    first, last = min(moments), max(moments)
    span = max(last - first, timedelta(hours=8))
    if span > timedelta(3):  # begin with a whole day, so that the first day's name has its place
        first = datetime.combine(on_clocks(first, graph.zone).date(), time(), graph.zone)
    names = [*((name, SIZE * 1.08) for name in graph.sites), *((reported, SMALL) for reported in graph.heard)]
    column = min(max((text_width(words, size) for words, size in names), default=0) + 16, width / 4)
    plan = LineLayout(graph, width, 4 if width < 600 else column, later(first, -span * 0.01), later(last, span * 0.03))
    for number, trip in enumerate(graph.trips):
        _stays_of(plan, number, trip)
    y = plan.top
    for site in range(len(graph.sites)):
        y = _band(plan, site, y)
    plan.foot = y
    _place_words(plan)
    _foot_words(plan)
    return plan


def _stays_of(plan: LineLayout, number: int, trip: Trip) -> None:
    """Cut a trip's way into stays, and give each its label and notes."""
    way = (*run_on(trip, plan.graph.now), *trip.forecast)
    runs: list[list[Point]] = []
    for point in way:
        if runs and runs[-1][-1].site == point.site:
            runs[-1].append(point)
        else:
            runs.append([point])
    named = False
    for place, run in enumerate(runs):
        at_other = run[0].at == run[-1].at and (
            (place == 0 and trip.branch_of) or (place == len(runs) - 1 and trip.joins)
        )
        if at_other and len(runs) > 1:
            continue  # drawn on the other trip's own line
        stay = Stay(number, run[0].site, run[0].at, run[-1].at)
        _name(plan, stay, trip, first=not named)
        named = True
        _note(plan, stay, trip)
        _claim(plan, stay)
        plan.stays.append(stay)


def _name(plan: LineLayout, stay: Stay, trip: Trip, *, first: bool) -> None:
    """Give the first stay the trip's label, a later one the short label where its line is long enough."""
    x, end = plan.x(stay.start), plan.x(stay.end)
    words = trip.label if first else trip.short
    if words and (first or text_width(words, SIZE) <= end - x):
        stay.label = fit_text(words, plan.width - plan.left - 4, SIZE)
        stay.label_x = _inside(plan, x, stay.label, SIZE)


def _note(plan: LineLayout, stay: Stay, trip: Trip) -> None:
    """Put scraps, holds and silences of this stay on rows under its line, each clear of the one before."""
    gaps = [LineEvent(gap.start, stay.site, plan.graph.words.silent) for gap in trip.silences]
    notes = [
        Note(kind, plan.x(event.at), event.words)
        for kind, events in (("scrap", trip.scraps), ("hold", trip.holds), ("silence", gaps))
        for event in events
        if event.site == stay.site and stay.start <= event.at <= stay.end
    ]
    ends: list[float] = []
    for note in sorted(notes, key=lambda n: n.x):
        note.words = fit_text(note.words, plan.width - plan.left - 20, SMALL)
        note.text_x = _inside(plan, note.x + (MARK_ROOM if note.kind == "hold" else 7), note.words, SMALL)
        # A stub or mark also keeps clear of the words on the rows that it passes.
        note.row = next((r for r, end in enumerate(ends) if end < min(note.text_x, note.x) - 8), len(ends))
        if note.row == len(ends):
            ends.append(0)
        ends[note.row] = note.text_x + text_width(note.words, SMALL)
        stay.notes.append(note)


def _inside(plan: LineLayout, x: float, words: str, size: float) -> float:
    return max(plan.left, min(x, plan.width - text_width(words, size) - 3))


def _claim(plan: LineLayout, stay: Stay) -> None:
    """Set how far across the stay's line and words reach."""
    lefts, rights = [plan.x(stay.start)], [plan.x(stay.end)]
    if stay.label:
        lefts.append(stay.label_x)
        rights.append(stay.label_x + text_width(stay.label, SIZE))
    for note in stay.notes:
        lefts.append(min(note.text_x, note.x - MARK_ROOM))
        rights.append(max(note.text_x + text_width(note.words, SMALL), note.x + MARK_ROOM))
    stay.left, stay.right = min(lefts), max(rights)


def _band(plan: LineLayout, site: int, top: float) -> float:
    """Pack a site's stays into lanes, first fit from the left; return the band's lower edge."""
    stays = sorted((s for s in plan.stays if s.site == site), key=lambda s: (s.left, s.trip))
    y = top + (24 if plan.narrow else 8)
    for lane in range(_lanes(stays)):
        there = [s for s in stays if s.lane == lane]
        y += (_ROW + 2 if any(s.label for s in there) else 4) + THICKEST / 2
        for stay in there:
            stay.y = y
        y += THICKEST / 2 + 4 + _ROW * max(s.rows for s in there)
    least = top + (34 if plan.narrow else 46)
    bottom = max(y + 6, least)
    plan.bands.append((top, bottom))
    return bottom


def _lanes(stays: Iterable[Stay]) -> int:
    """Give each stay the first lane that is free where it begins; returns how many there are."""
    ends: list[float] = []
    for stay in stays:
        stay.lane = next((n for n, end in enumerate(ends) if end + 12 < stay.left), len(ends))
        if stay.lane == len(ends):
            ends.append(0)
        ends[stay.lane] = stay.right
    return len(ends)


def _place_words(plan: LineLayout) -> None:
    """Turn names, labels and notes into texts with boxes."""
    graph = plan.graph
    for site, (top, _) in enumerate(plan.bands):
        heard = graph.heard[site] if site < len(graph.heard) else ""
        room = plan.width if plan.narrow else plan.left - 10
        name = fit_text(graph.sites[site], room / 1.1, SIZE)
        plan.texts.append(Text(0, top + 19, name, SIZE, bold=True, plate=True))
        if heard and plan.narrow:
            x = text_width(name, SIZE) * 1.08 + 10
            plan.texts.append(
                Text(x, top + 19, fit_text(heard, plan.width - x - 3, SMALL), SMALL, soft=True, plate=True)
            )
        elif heard:
            plan.texts.append(Text(0, top + 35, fit_text(heard, room, SMALL), SMALL, soft=True))
    for stay in plan.stays:
        if stay.label:
            plan.texts.append(Text(stay.label_x, stay.y - THICKEST / 2 - 5, stay.label, SIZE, plate=True))
        for note in stay.notes:
            base = stay.y + THICKEST / 2 + 13 + _ROW * note.row
            plan.texts.append(Text(note.text_x, base, note.words, SMALL, soft=True, plate=True))


def _foot_words(plan: LineLayout) -> None:
    """Name the two upright lines under the drawing; where they are close, the second goes a row lower."""
    words, row, before = plan.graph.words, plan.foot + 17, None
    marks = [(plan.graph.now, words.now, False)]
    if plan.graph.promise:
        day = words.day(on_clocks(plan.graph.promise, plan.graph.zone).date())
        marks.append((plan.graph.promise, words.promised.format(day=day), True))
    for at, said, bold in marks:
        wide = text_width(said, SIZE) * (1.08 if bold else 1)
        x = max(0, min(plan.x(at) - wide / 2, plan.width - wide - 3))
        if before and x < before[1] + 8 and x + wide > before[0] - 8:
            row += _ROW + 1
        plan.texts.append(Text(x, row, said, SIZE, bold=bold))
        before = (x, x + wide)
    plan.height = row + 8
