"""Every site's calendar as the rules want it: zone, shifts, and the days on which it is shut."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, timedelta

from sites.models import Closure, Site
from traveller.rules.shifts import ShiftError, Shifts, parse_shifts
from traveller.rules.workdays import SiteCalendar

MONDAY_TO_FRIDAY = "Mo-Fr 08:00-16:30"


def calendars_of(sites: Iterable[Site]) -> dict[int, SiteCalendar]:
    """Calendars by site; one query however many sites."""
    closed: dict[int, set[date]] = defaultdict(set)
    for row in Closure.objects.all():
        days = (row.last_day - row.first_day).days + 1
        closed[row.site_id] |= {row.first_day + timedelta(days=n) for n in range(days)}
    return {site.pk: SiteCalendar(site.timezone, shifts_of(site), frozenset(closed[site.pk])) for site in sites}


def shifts_of(site: Site) -> Shifts:
    """The shifts as written; a slip in them must not take a page or a plan away."""
    shifts = parse_shifts(site.shifts)
    if isinstance(shifts, ShiftError) or not shifts:
        shifts = parse_shifts(MONDAY_TO_FRIDAY)
        assert not isinstance(shifts, ShiftError)
    return shifts
