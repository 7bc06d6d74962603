"""One order's line graph: its batches' journeys as trips between sites. Reads in a constant number of queries."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta

from django.utils import timezone
from django.utils.translation import gettext as _

from traveller.batches.models import Batch
from traveller.batches.reads.journeys import Change, Journey, Leg, journeys
from traveller.dispatches.models import ConsignmentLine
from traveller.ledger.models import Hold
from traveller.rules.moments import later, on_clocks
from traveller.web.founder.desk.frame import Desk
from traveller.web.founder.work.usual import Usual, heard_words
from traveller.web.picture_words import day_words, line_words
from traveller.web.pictures.line_graph import LineEvent, LineGraph, Point, Silence, Trip
from traveller.web.templatetags.look import whole
from traveller.web.words import say

HALF_A_DAY = timedelta(hours=12)


@dataclass
class _Draft:
    """A trip in the making; `site` is where it lies now, None on the road."""

    key: str
    points: list[tuple[datetime, int, int]]
    branch_of: str | None = None
    joins: str | None = None
    ended: bool = False
    leg: Leg | None = None

    def add(self, at: datetime, site: int, pieces: int) -> None:
        """Note a change; of several on one day at one place only the last is drawn."""
        if len(self.points) > 1:
            before = self.points[-1]
            earlier = self.points[-2]
            if before[1] == site == earlier[1] and at - earlier[0] < HALF_A_DAY:
                self.points[-1] = (at, site, pieces)
                return
        self.points.append((at, site, pieces))


@dataclass
class _Drafts:
    """The trips of one lot: the main one, and a branch for each part that was sent ahead."""

    journey: Journey
    all: list[_Draft] = field(default_factory=list)
    at_site: dict[int, _Draft] = field(default_factory=dict)
    on_road: dict[tuple[datetime, int], _Draft] = field(default_factory=dict)

    def build(self) -> list[_Draft]:
        """Walk through the changes in order, each belonging to the trip that stands for its site then."""
        leaving = {(leg.left_at, leg.from_site): leg for leg in self.journey.legs}
        arriving = {(leg.arrived_at, leg.to_site): leg for leg in self.journey.legs}
        for change in self.journey.changes:
            if leg := arriving.get((change.at, change.site_id)):
                self._arrive(change, leg)
            elif leg := leaving.get((change.at, change.site_id)):
                self._leave(change, leg)
            else:
                self._at(change).add(change.at, change.site_id, change.pieces)
        for site, draft in self.at_site.items():
            draft.ended = not self.journey.lying.get(site)
        return self.all

    def _at(self, change: Change) -> _Draft:
        if change.site_id not in self.at_site:
            draft = _Draft(f"{self.journey.lot_id}-{len(self.all)}", [])
            self.all.append(draft)
            self.at_site[change.site_id] = draft
        return self.at_site[change.site_id]

    def _leave(self, change: Change, leg: Leg) -> None:
        draft = self._at(change)
        if leg.rest == 0:
            draft.points.append((leg.left_at, leg.from_site, leg.pieces))
            self.at_site.pop(change.site_id)
        else:
            draft.add(leg.left_at, leg.from_site, leg.rest)
            start = [(leg.left_at, leg.from_site, leg.pieces)]
            draft = _Draft(f"{self.journey.lot_id}-{len(self.all)}", start, branch_of=draft.key)
            self.all.append(draft)
        draft.leg = leg
        self.on_road[leg.left_at, leg.from_site] = draft

    def _arrive(self, change: Change, leg: Leg) -> None:
        draft = self.on_road.pop((leg.left_at, leg.from_site), None)
        if draft is None:
            self._at(change).add(change.at, change.site_id, change.pieces)
            return
        draft.leg = None
        draft.points.append((change.at, change.site_id, leg.arrived))
        there = self.at_site.setdefault(change.site_id, draft)
        if there is not draft:
            draft.joins, draft.ended = there.key, True
            there.add(change.at, change.site_id, change.pieces)


def order_graph(
    desk: Desk, batches: Sequence[Batch], usual: dict[int, Usual], sentence: str, due: datetime | None
) -> LineGraph | None:
    """The graph of these batches, or None while nothing has been made. `batches` come with their parts."""
    by_lot = {batch.lot_id: batch for batch in batches if batch.lot_id}
    found = {pk: journey for pk, journey in journeys(by_lot).items() if journey.changes}
    if not found:
        return None
    drafts = {pk: _Drafts(journey).build() for pk, journey in found.items()}
    coming = _coming(by_lot)
    order = _sites(drafts, usual, coming)
    trips = _trips(desk, by_lot, found, drafts, order, usual, coming)
    names = tuple(usual[pk].site.name for pk in order)
    heard = tuple(heard_words(usual[pk].heard, desk.now) for pk in order)
    return LineGraph(
        names, tuple(trips), desk.now, sentence, due, heard, _weekends(drafts, desk, due), desk.zone, line_words()
    )


def _sites(drafts: dict[int, list[_Draft]], usual: dict[int, Usual], coming: dict[tuple[int, int], int]) -> list[int]:
    """Sites in the order in which goods first came there, the own bench last."""
    first: dict[int, datetime] = {}
    for some in drafts.values():
        for draft in some:
            for at, site, _pieces in draft.points:
                first[site] = min(first.get(site, at), at)
    for pk in set(coming.values()):
        first.setdefault(pk, datetime.max.replace(tzinfo=UTC))
    return sorted(first, key=lambda pk: (usual[pk].site.kind == "own", first[pk], pk))


def _coming(by_lot: dict[int, Batch]) -> dict[tuple[int, int], int]:
    """Where goods on the road go: by lot and origin."""
    rows = ConsignmentLine.objects.filter(lot__in=by_lot, closed=False).values_list(
        "lot_id", "consignment__origin_id", "consignment__destination_id"
    )
    return {(lot, origin): destination for lot, origin, destination in rows}


def _trips(
    desk: Desk,
    by_lot: dict[int, Batch],
    found: dict[int, Journey],
    drafts: dict[int, list[_Draft]],
    order: list[int],
    usual: dict[int, Usual],
    coming: dict[tuple[int, int], int],
) -> list[Trip]:
    place = {pk: number for number, pk in enumerate(order)}
    holds: dict[int, list[Hold]] = {}
    for hold in Hold.objects.filter(lot__in=by_lot, root=None, closed_at=None).order_by("id"):
        holds.setdefault(hold.lot_id, []).append(hold)
    trips: list[Trip] = []
    for lot_id, some in drafts.items():
        journey, batch = found[lot_id], by_lot[lot_id]
        scrapped = _scrap(journey, place)
        for number, draft in enumerate(some):
            if draft.ended and draft.joins is None:
                draft.joins = _joined(journey, drafts)
            main = number == 0
            trips.append(
                Trip(
                    key=draft.key,
                    label=_label(batch, draft, journey, main=main),
                    points=tuple(Point(at, place[site], pieces) for at, site, pieces in draft.points),
                    forecast=_on_the_way(desk, lot_id, draft, coming, place),
                    scraps=scrapped if main else (),
                    holds=_knots(holds.get(lot_id, []), draft, place) if main else (),
                    silences=_silence(desk, lot_id, draft, usual, held=lot_id in holds),
                    branch_of=draft.branch_of,
                    joins=draft.joins,
                    ended=draft.ended or draft.leg is not None,
                    short=batch.part.name,
                )
            )
    trips.sort(key=lambda trip: trip.points[0].at)
    return trips


def _joined(journey: Journey, drafts: dict[int, list[_Draft]]) -> str | None:
    """The line of the first lot that it went into, where that is drawn."""
    into = [pk for pk in journey.went_into if drafts.get(pk)]
    return drafts[min(into)][0].key if into else None


def _label(batch: Batch, draft: _Draft, journey: Journey, *, main: bool) -> str:
    """A part that left is ahead only while the rest of it still lies there; later it is told by its day.

    What turned up where all had left, as a tray behind a press, was sent nowhere.
    """
    if not main and draft.branch_of is None:
        return _("%(n)s found there") % {"n": whole(draft.points[0][2])}
    if not main:
        left_at, origin, pieces = draft.points[0]
        if journey.lying.get(origin):
            return _("%(n)s sent ahead") % {"n": whole(pieces)}
        return _("%(n)s sent %(day)s") % {
            "n": whole(pieces),
            "day": day_words(on_clocks(left_at, timezone.get_current_timezone()).date()),
        }
    return f"{batch.part.title} {whole(max(pieces for _at, _site, pieces in draft.points))}"


def _on_the_way(
    desk: Desk, lot_id: int, draft: _Draft, coming: dict[tuple[int, int], int], place: dict[int, int]
) -> tuple[Point, ...]:
    """Dashes to where it is travelling: nobody has told that it arrived."""
    if draft.leg is None:
        return ()
    target = coming.get((lot_id, draft.leg.from_site))
    if target is None:
        return ()
    return (Point(max(desk.now, later(draft.leg.left_at, timedelta(days=1))), place[target], draft.leg.pieces),)


def _scrap(journey: Journey, place: dict[int, int]) -> tuple[LineEvent, ...]:
    """One stub a site, at the last scrap there, with the sum."""
    sums: dict[int, tuple[datetime, int]] = {}
    for change in journey.scrap:
        sums[change.site_id] = (change.at, sums.get(change.site_id, (change.at, 0))[1] + change.pieces)
    return tuple(
        LineEvent(at, place[site], _("scrap %(n)s") % {"n": whole(pieces)})
        for site, (at, pieces) in sums.items()
        if pieces and site in place
    )


def _knots(holds: list[Hold], draft: _Draft, place: dict[int, int]) -> tuple[LineEvent, ...]:
    """A knot where the pieces lay when the hold was opened."""
    found = []
    for hold in holds:
        there = [point for point in draft.points if point[0] <= hold.opened_at] or draft.points[:1]
        at = max(hold.opened_at, there[-1][0])
        found.append(LineEvent(at, place[there[-1][1]], _("held: %(why)s") % {"why": say(hold.code, hold.figures)}))
    return tuple(found)


def _silence(desk: Desk, lot_id: int, draft: _Draft, usual: dict[int, Usual], *, held: bool) -> tuple[Silence, ...]:
    """From its last news on, where a shop has kept it for longer than usual; not while it waits for the founder, nor
    in stock where it is wanted."""
    at, site, _pieces = draft.points[-1]
    where = usual[site]
    if held or draft.ended or draft.leg is not None or where.site.kind == "own":
        return ()
    if lot_id not in where.came or not where.is_over(at, desk.now):
        return ()
    return (Silence(at, desk.now),)


def _weekends(drafts: dict[int, list[_Draft]], desk: Desk, due: datetime | None) -> frozenset[date]:
    """Saturdays and Sundays of the span drawn."""
    starts = [point[0] for some in drafts.values() for draft in some for point in draft.points]
    first = on_clocks(min(starts), desk.zone).date()
    last = on_clocks(max(desk.now, due or desk.now), desk.zone).date()
    days = [later(first, timedelta(days=n)) for n in range(min((last - first).days + 7, 400))]
    return frozenset(day for day in days if day.weekday() >= 5)


@dataclass(frozen=True, slots=True)
class StayLine:
    """The drawing in figures: so many pieces of a batch at a site, from then until then."""

    what: str
    site: str
    since: datetime
    until: datetime | None
    pieces: int
    reported: str


def stays(graph: LineGraph) -> list[StayLine]:
    """A line for each stay of each trip, with scrap and holds told at that site."""
    found = []
    for trip in graph.trips:
        start = trip.points[0]
        for before, point in itertools.pairwise([*trip.points, None]):
            assert before is not None
            if point is not None and point.site == before.site:
                continue
            open_end = point is None and not trip.ended
            notes = [note.words for note in (*trip.scraps, *trip.holds) if note.site == before.site]
            found.append(
                StayLine(trip.label, graph.sites[before.site], start.at, None if open_end else before.at, before.good,
                         ", ".join(notes))
            )  # fmt: skip
            start = point or start
    return found


def end_of(day: date, desk: Desk) -> datetime:
    """The end of a working day, as the founder's zone has it."""
    return datetime.combine(day, time(17), desk.zone)
