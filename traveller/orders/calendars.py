"""When must goods leave to be there on time? Working days counted backward, with each site's calendar and lanes."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from sites.calendars import calendars_of
from sites.models import Lane, Site
from traveller.rules.workdays import SiteCalendar, add_working_days, next_open_day, previous_open_day

_DEFAULT_TRANSIT_DAYS = 1


def back(calendar: SiteCalendar, day: date, working_days: int) -> date:
    """The open day so many working days before `day` (itself taken back to an open one)."""
    return add_working_days(calendar, previous_open_day(calendar, day), -working_days)


class Calendars:
    """Every site's calendar and every lane, read once for a plan."""

    def __init__(self) -> None:
        self.sites = {site.pk: site for site in Site.objects.all()}
        self.of = calendars_of(self.sites.values())
        self.lanes: dict[tuple[int, int], int] = {
            (origin, destination): days
            for origin, destination, days in Lane.objects.values_list("origin_id", "destination_id", "transit_days")
        }

    def transit_days(self, origin_id: int, destination_id: int) -> tuple[int, bool]:
        """Working days on the way, and whether the lane says so (else one day is assumed)."""
        if origin_id == destination_id:
            return 0, True
        known = self.lanes.get((origin_id, destination_id))
        return (_DEFAULT_TRANSIT_DAYS, False) if known is None else (known, True)

    def leave_by(self, origin_id: int, destination_id: int, arrive_on: date) -> date:
        """The last day on which goods may leave to be there on time; both ends open, transit on the origin's."""
        arrive_on = previous_open_day(self.of[destination_id], arrive_on)
        if origin_id == destination_id:
            return arrive_on
        days, _ = self.transit_days(origin_id, destination_id)
        return back(self.of[origin_id], arrive_on, days)

    def there_on(self, origin_id: int, destination_id: int, leave_on: date) -> date:
        """The first day on which goods that may leave on a day are there; `leave_by` forward."""
        if origin_id == destination_id:
            return next_open_day(self.of[destination_id], leave_on)
        days, _ = self.transit_days(origin_id, destination_id)
        leave_on = next_open_day(self.of[origin_id], leave_on)
        return next_open_day(self.of[destination_id], add_working_days(self.of[origin_id], leave_on, days))


def own_bench(sites: Iterable[Site]) -> Site | None:
    """The maker's own bench: the first site of that kind."""
    own = sorted((site for site in sites if site.kind == "own"), key=lambda site: site.pk)
    return own[0] if own else None
