"""Where the pieces of some lots lay at every moment: stays at sites and trips between them, from the postings."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from traveller.ledger.models import Condition, Link, Posting

_LYING = (Condition.IN_PROCESS, Condition.REWORK, Condition.STOCK, Condition.PACKED)


@dataclass(frozen=True, slots=True)
class Change:
    """At this moment a lot's good pieces at a site became so many."""

    at: datetime
    site_id: int
    pieces: int
    kind: str


@dataclass(frozen=True, slots=True)
class Leg:
    """Pieces left a site; `arrived_at` is None while they are on the road. `rest` stayed behind."""

    left_at: datetime
    from_site: int
    pieces: int
    rest: int
    arrived_at: datetime | None = None
    to_site: int | None = None
    arrived: int = 0


@dataclass(slots=True)
class Journey:
    """One lot's way: what lay where, what travelled, what was scrapped, and which lot it went into."""

    lot_id: int
    changes: list[Change] = field(default_factory=list)
    legs: list[Leg] = field(default_factory=list)
    scrap: list[Change] = field(default_factory=list)
    went_into: set[int] = field(default_factory=set)
    lying: dict[int, int] = field(default_factory=dict)

    @property
    def gone(self) -> bool:
        """Nothing of it lies or travels any more."""
        return not any(self.lying.values()) and all(leg.arrived_at for leg in self.legs)


def journeys(lot_ids: Iterable[int]) -> dict[int, Journey]:
    """The way of each lot; two queries for any number of them."""
    found = {lot_id: Journey(lot_id) for lot_id in lot_ids}
    rows = (
        Posting.objects.filter(account__lot__in=found, account__condition__in=[*_LYING, "on_the_road", "scrap"])
        .order_by("event__happened_at", "event_id", "id")
        .values_list(
            "account__lot_id", "event_id", "event__happened_at", "event__kind", "event__site_id",
            "account__site_id", "account__condition", "quantity",
        )
    )  # fmt: skip
    reported: dict[tuple[int, int], _Told] = {}
    for lot_id, event_id, at, kind, event_site, site, condition, quantity in rows:
        entry = reported.setdefault((lot_id, event_id), _Told(at, kind, event_site))
        entry.add(site, condition, quantity)
    for (lot_id, _), entry in reported.items():
        _take(found[lot_id], entry)
    for parent, child in Link.objects.filter(parent__in=found, child__in=found).values_list("parent_id", "child_id"):
        found[parent].went_into.add(child)
    return found


@dataclass
class _Told:
    """One event's effect on one lot."""

    at: datetime
    kind: str
    event_site: int | None
    lying: dict[int, int] = field(default_factory=lambda: defaultdict(int))
    road: dict[int, int] = field(default_factory=lambda: defaultdict(int))
    scrap: dict[int, int] = field(default_factory=lambda: defaultdict(int))

    def add(self, site: int, condition: str, quantity: int) -> None:
        table = self.road if condition == Condition.ON_THE_ROAD else self.lying
        if condition == Condition.SCRAP:
            table = self.scrap
        table[site] += quantity


def _take(journey: Journey, reported: _Told) -> None:
    for site, pieces in reported.scrap.items():
        if pieces:
            journey.scrap.append(Change(reported.at, site, pieces, reported.kind))
    for origin, travelling in reported.road.items():
        if travelling < 0:
            _arrive(journey, reported, origin, sum(pieces for pieces in reported.lying.values() if pieces > 0))
    for site, delta in reported.lying.items():
        if not delta:
            continue
        journey.lying[site] = journey.lying.get(site, 0) + delta
        if reported.road.get(site, 0) > 0:
            journey.legs.append(Leg(reported.at, site, reported.road[site], journey.lying[site]))
        journey.changes.append(Change(reported.at, site, journey.lying[site], reported.kind))


def _arrive(journey: Journey, reported: _Told, origin: int, counted: int) -> None:
    """Pair an arrival with the oldest leg from there that is still on the road."""
    for place, leg in enumerate(journey.legs):
        if leg.from_site == origin and leg.arrived_at is None:
            journey.legs[place] = Leg(
                leg.left_at, origin, leg.pieces, leg.rest, reported.at, reported.event_site or origin, counted
            )
            return
