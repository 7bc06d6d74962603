"""When is a site open, and how long is the way? Whole working days, counted backward from a date."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sites.models import Closure, Lane, Site

DAY = timedelta(days=1)
DAY_NAMES = ("mo", "tu", "we", "th", "fr", "sa", "su")
DEFAULT_TRANSIT_DAYS = 1
# A site that never opens is a slip in its shifts or closures: counting stops and says so.
SEARCH_DAYS_MAX = 1500
_DAYS = re.compile(r"\b(mo|tu|we|th|fr|sa|su)\b(?:\s*-\s*(mo|tu|we|th|fr|sa|su)\b)?", re.IGNORECASE)


def open_weekdays(shifts: str) -> frozenset[int]:
    """Weekdays (Monday 0) named in "Mo-Th 07:00-16:00, Fr 07:00-12:00"; a range may run past Sunday."""
    found: set[int] = set()
    for first, last in _DAYS.findall(shifts):
        start = DAY_NAMES.index(first.lower())
        end = DAY_NAMES.index((last or first).lower())
        found |= {(start + offset) % 7 for offset in range((end - start) % 7 + 1)}
    return frozenset(found) or frozenset(range(5))


@dataclass(frozen=True)
class Calendar:
    """One site's open days."""

    site: Site
    weekdays: frozenset[int]
    closed: Sequence[tuple[date, date]]

    def is_open(self, day: date) -> bool:
        if day.weekday() not in self.weekdays:
            return False
        return not any(first <= day <= last for first, last in self.closed)

    def latest(self, day: date) -> date:
        """The day itself when open, else the last open one before it."""
        for _ in range(SEARCH_DAYS_MAX):
            if self.is_open(day):
                return day
            day -= DAY
        raise ValueError(f"{self.site.code} is never open")

    def back(self, day: date, working_days: int) -> date:
        """The open day so many working days before `day` (itself taken back to an open one)."""
        day = self.latest(day)
        for _ in range(working_days):
            day = self.latest(day - DAY)
        return day


class Calendars:
    """Every site's calendar and every lane, read once for a plan."""

    def __init__(self) -> None:
        self.sites = {site.pk: site for site in Site.objects.all()}
        closed: dict[int, list[tuple[date, date]]] = {pk: [] for pk in self.sites}
        for site_id, first, last in Closure.objects.values_list("site_id", "first_day", "last_day"):
            closed[site_id].append((first, last))
        self.of = {pk: Calendar(site, open_weekdays(site.shifts), closed[pk]) for pk, site in self.sites.items()}
        self.lanes: dict[tuple[int, int], int] = {
            (origin, destination): days
            for origin, destination, days in Lane.objects.values_list("origin_id", "destination_id", "transit_days")
        }

    def transit_days(self, origin_id: int, destination_id: int) -> tuple[int, bool]:
        """Working days on the way, and whether the lane says so (else one day is assumed)."""
        if origin_id == destination_id:
            return 0, True
        known = self.lanes.get((origin_id, destination_id))
        return (DEFAULT_TRANSIT_DAYS, False) if known is None else (known, True)

    def leave_by(self, origin_id: int, destination_id: int, arrive_on: date) -> date:
        """The last day on which goods may leave to be there on time; both ends open, transit on the origin's."""
        if origin_id == destination_id:
            return self.of[origin_id].latest(arrive_on)
        arrive_on = self.of[destination_id].latest(arrive_on)
        days, _ = self.transit_days(origin_id, destination_id)
        return self.of[origin_id].back(arrive_on, days)


def own_bench(sites: Iterable[Site]) -> Site | None:
    """The maker's own bench: the first site of that kind."""
    own = sorted((site for site in sites if site.kind == "own"), key=lambda site: site.pk)
    return own[0] if own else None
