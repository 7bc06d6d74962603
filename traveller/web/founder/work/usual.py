"""Is this longer than usual? A site's own working days against the days that a batch usually stays there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import OuterRef, Subquery

from sites.calendars import calendars_of
from sites.models import Site
from traveller.journal.models import Event
from traveller.rules.moments import later, on_clocks
from traveller.rules.workdays import SiteCalendar, working_days_between


@dataclass(frozen=True, slots=True)
class Usual:
    """A site with its working days; `heard` is when anybody last told something there."""

    site: Site
    calendar: SiteCalendar
    heard: datetime | None

    @property
    def days(self) -> int:
        return self.site.turnaround_days

    def worked(self, since: datetime, now: datetime) -> int:
        """Working days that have begun at the site after the day of `since`."""
        first, last = on_clocks(since, self.site.zone).date(), on_clocks(now, self.site.zone).date()
        return working_days_between(self.calendar, later(first, timedelta(days=1)), last)

    def is_over(self, since: datetime | None, now: datetime) -> bool:
        return since is not None and self.worked(since, now) > self.days


def every_site() -> dict[int, Usual]:
    """All sites; two queries. The latest event of each site is one step into its index, whatever the history."""
    reported = Event.objects.filter(site=OuterRef("pk")).exclude(actor_kind="system")
    latest = reported.order_by("-recorded_at").values("recorded_at")[:1]
    sites = list(Site.objects.annotate(heard=Subquery(latest)).order_by("name"))
    calendars = calendars_of(sites)
    return {site.pk: Usual(site, calendars[site.pk], site.heard) for site in sites}


def heard_line(usual: dict[int, Usual], busy: set[int], now: datetime) -> list[dict[str, object]]:
    """The as-of line: each site where goods lie, and whether its silence is longer than usual."""
    return [
        {"site": row.site.name, "when": row.heard, "overdue": row.heard is None or row.is_over(row.heard, now)}
        for pk, row in usual.items()
        if pk in busy
    ]
