"""How long batches stay at a shop, in its own working days: visits from the postings, and what is usual of them."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from fractions import Fraction
from functools import cached_property
from zoneinfo import ZoneInfo

from tests.reckoning.goods import Known
from tests.reckoning.rows import Place, Row

WEEK = ("Mo", "Tu", "We", "Th", "Fr", "Sa", "Su")
# From so many visits that are over a length is told as a fact: the median, and what four in five end within.
MEDIAN_FROM, HIGH_FROM = 5, 10


@dataclass
class Visit:
    """Pieces of a batch at a shop; `good`: good ones left it, so that its length is known."""

    lot: int | None
    site: int
    came: datetime
    left: datetime | None = None
    good: bool = False


@dataclass(frozen=True)
class Usual:
    agreed: int
    over: int
    median: int | None
    high: int | None

    @property
    def longest(self) -> int:
        return self.agreed if self.high is None else self.high


class Visits:
    """Every visit that the rows tell of, and the calendars that they are measured by."""

    def __init__(self, known: Known) -> None:
        self.known, self.rows = known, known.rows
        self._closed: dict[int, set[date]] = defaultdict(set)
        for row in self.rows.closures.values():
            day = row.first_day
            while day <= row.last_day:
                self._closed[row.site_id].add(day)
                day += timedelta(days=1)
        self._open = {site.id: _weekdays(site.shifts) for site in self.rows.sites.values()}

    @classmethod
    def of(cls, known: Known) -> Visits:
        """Reckoned once a moment."""
        if "visits" not in known.kept:
            known.kept["visits"] = cls(known)
        found: Visits = known.kept["visits"]
        return found

    # --- working days
    def worked(self, site: int, since: datetime, until: datetime) -> int:
        """Working days of the shop that have begun after the day on which it came."""
        zone = ZoneInfo(self.rows.sites[site].timezone)
        day, last = since.astimezone(zone).date(), until.astimezone(zone).date()
        days = 0
        while day < last:
            day += timedelta(days=1)
            days += day.weekday() in self._open[site] and day not in self._closed[site]
        return days

    # --- visits
    def at_work(self, place: Place) -> bool:
        """Is there something to be done with pieces there, or are they to be sent on?"""
        batch = self.rows.batch_of(place.lot)
        if batch is None:
            return False
        if place.condition == "stock":
            return place.step > 0 or place.site != batch.destination_id
        return place.condition in ("in_process", "rework")

    @cached_property
    def all(self) -> list[Visit]:
        found = []
        for batch in self.rows.batches.values():
            for site in {step.site_id for step in self.rows.steps_of(batch.id)} | self._touched(batch.lot_id):
                found += self._of(batch, site)
        return found

    def _touched(self, lot: int | None) -> set[int]:
        return {place.site for place in self.rows.moves if place.lot == lot and self.at_work(place)}

    def _of(self, batch: Row, site: int) -> list[Visit]:
        """From the first piece, or the first work, to the last piece that left."""
        began, done = self._worked_at(batch, site)
        found: list[Visit] = []
        pieces = 0
        for at, here, gone in self._moves(batch.lot_id, site):
            if pieces <= 0 < pieces + here:
                found.append(Visit(batch.lot_id, site, at))
            pieces += here
            if found and found[-1].left is None:
                found[-1].good |= gone
                if pieces <= 0:
                    found[-1].left = at
        taken_over = self.rows.events[batch.released_event_id]
        for visit in found:
            # Nobody knows since when a batch that was taken over had been there: at least so long.
            here_before = taken_over.kind == "adopted" and visit.came == taken_over.happened_at
            visit.good &= visit.left is not None and not here_before
        if not found and began:
            # What goes into stock as it is counted never waits there.
            found = [Visit(batch.lot_id, site, began, done, done is not None)]
        elif found and began and began < found[0].came:
            found[0].came = began
        parent = self.rows.batches.get(batch.parent_id) if batch.parent_id else None
        if parent and found and self._split(batch):
            for visit in self._of(parent, site):
                if visit.came <= found[0].came and (visit.left is None or found[0].came <= visit.left):
                    found[0].came = visit.came
                    break
        return found

    def _split(self, batch: Row) -> bool:
        return batch.lot_id is not None and self.rows.lots[batch.lot_id].origin == "split"

    def _worked_at(self, batch: Row, site: int) -> tuple[datetime | None, datetime | None]:
        steps = [step for step in self.rows.steps_of(batch.id) if step.site_id == site]
        began = min((step.started_at for step in steps if step.started_at), default=None)
        done = max((step.done_at for step in steps if step.done_at), default=None)
        return began, done if all(step.state == "done" for step in steps) else None

    def _moves(self, lot: int | None, site: int) -> list[tuple[datetime, int, bool]]:
        """Event by event: so many more or fewer at work there, and whether good ones left."""
        sums: dict[tuple[datetime, int], list[int]] = defaultdict(lambda: [0, 0])
        for place, moves in self.rows.moves.items():
            if place.lot == lot and place.site == site:
                work = self.at_work(place)
                on = place.condition in ("on_the_road", "made_into", "packed", "sold_to", "stock") and not work
                for move in moves:
                    if move.event_id not in self._undone:
                        sums[move.happened_at, move.event_id][0] += move.quantity if work else 0
                        sums[move.happened_at, move.event_id][1] += move.quantity if on else 0
        return [(at, here, on > 0) for (at, _event), (here, on) in sorted(sums.items())]

    @cached_property
    def _undone(self) -> set[int]:
        """What was taken back did not happen."""
        back = [event for event in self.rows.events.values() if event.kind == "undone"]
        return {event.id for event in back} | {event.corrects_id for event in back}

    # --- what is usual
    @cached_property
    def usual(self) -> dict[int, Usual]:
        lengths: dict[int, list[tuple[int, bool]]] = defaultdict(list)
        for visit in self.all:
            until = visit.left or self.known.now
            lengths[visit.site].append((self.worked(visit.site, visit.came, until), visit.good))
        return {
            site.id: Usual(
                site.turnaround_days,
                over := sum(good for _days, good in lengths[site.id]),
                _within(lengths[site.id], Fraction(1, 2)) if over >= MEDIAN_FROM else None,
                _within(lengths[site.id], Fraction(4, 5)) if over >= HIGH_FROM else None,
            )
            for site in self.rows.sites.values()
        }

    def here_since(self, place: Place) -> datetime:
        """When the visit began that is going on there; of what is on none, when its place was filled."""
        if self.at_work(place):
            for visit in self.all:
                if (visit.lot, visit.site, visit.left) == (place.lot, place.site, None):
                    return visit.came
        return self.known.since(place)


def _weekdays(shifts: str) -> set[int]:
    """ "Mo-Fr 07:00-15:30, Sa 08:00-13:00": the days on which it is open at all."""
    found: set[int] = set()
    for part in shifts.split(","):
        first, _, last = part.split()[0].partition("-")
        found |= set(range(WEEK.index(first), WEEK.index(last or first) + 1))
    return found


def _within(lengths: list[tuple[int, bool]], share: Fraction) -> int | None:
    """The number of days within which this share of visits ends (product-limit estimate)."""
    staying = Fraction(1)
    for days in sorted({days for days, good in lengths if good}):
        at_risk = sum(other >= days for other, _good in lengths)
        ended = sum(other == days and good for other, good in lengths)
        staying *= 1 - Fraction(ended, at_risk)
        if staying <= 1 - share:
            return days
    return None
