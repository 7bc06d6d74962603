"""Is this longer than usual? A shop's own working days since pieces came, against how long batches stay there.

Both are counted in working days that have begun at the shop after the day of arrival. How long is measured where
enough visits are over (`rules.stays`), else it is the agreed number, and the words say which.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import Min
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from sites.calendars import calendars_of
from sites.models import Site, SiteKind
from traveller.batches.reads.queries import LYING
from traveller.batches.reads.stays import Visit, lies_at_work, of_late, visits_of
from traveller.journal.heard import last_heard
from traveller.ledger.models import Account, Hold
from traveller.rules.moments import later, on_clocks
from traveller.rules.stays import MEDIAN_FROM, StayLength, UsualStay, usual_stay
from traveller.rules.workdays import SiteCalendar, working_days_between
from traveller.web.templatetags.look import lapse_words, whole


@dataclass(frozen=True, slots=True)
class Usual:
    """A site with its working days; `heard` is when it was last heard from, `stay` how long batches stay there.

    `came`: by lot, when the visit began that is going on there.
    """

    site: Site
    calendar: SiteCalendar
    heard: datetime | None
    stay: UsualStay
    came: Mapping[int, datetime] = field(default_factory=dict)

    def worked(self, since: datetime, now: datetime) -> int:
        """Working days that have begun at the site after the day of `since`."""
        return _worked(self.site, self.calendar, since, now)

    def is_over(self, since: datetime | None, now: datetime) -> bool:
        """Longer than four in five visits, where that is measured, else longer than agreed."""
        return since is not None and self.worked(since, now) > self.stay.longest

    def here_since(self, lot_id: int | None, since: datetime | None) -> datetime | None:
        """When a lot's visit there began; for what is on none, such as stock, when its place was filled."""
        return self.came.get(lot_id or 0, since)

    def is_silent(self, lying_since: datetime | None, now: datetime) -> bool:
        """No report for longer than usual while goods lie there; suppliers report nothing.

        Of a site that was not heard from yet, since the first of those goods came.
        """
        if self.site.kind == SiteKind.SUPPLIER or lying_since is None:
            return False
        return self.is_over(self.heard or lying_since, now)


def every_site(now: datetime) -> dict[int, Usual]:
    """All sites by name; eight queries, however many sites, batches and reports there are."""
    heard = last_heard()
    sites = list(Site.objects.order_by("name"))
    calendars = calendars_of(sites)
    visits: dict[int, list[Visit]] = defaultdict(list)
    for visit in visits_of(of_late()):
        visits[visit.site_id].append(visit)
    return {
        site.pk: Usual(
            site,
            calendars[site.pk],
            heard[site.pk],
            usual_stay([_length(site, calendars[site.pk], row, now) for row in visits[site.pk]], site.turnaround_days),
            {row.lot_id: row.arrived for row in visits[site.pk] if row.left is None and row.lot_id},
        )
        for site in sites
    }


def _length(site: Site, calendar: SiteCalendar, visit: Visit, now: datetime) -> StayLength:
    return StayLength(_worked(site, calendar, visit.arrived, visit.left or now), over=visit.over)


def _worked(site: Site, calendar: SiteCalendar, since: datetime, until: datetime) -> int:
    first, last = on_clocks(since, site.zone).date(), on_clocks(until, site.zone).date()
    return working_days_between(calendar, later(first, timedelta(days=1)), last)


@dataclass(frozen=True, slots=True)
class Overstay:
    """Pieces of a lot that have been at a site since then, which is longer than usual there."""

    since: datetime
    lot_id: int
    site_id: int
    pieces: int


def overstays(usual: dict[int, Usual], now: datetime) -> list[Overstay]:
    """What has been at a shop for longer than usual, the longest first; held lots wait for the founder. One query."""
    accounts = Account.objects.filter(lies_at_work(), balance__gt=0, lot__batch__closed_at=None)
    accounts = accounts.exclude(lot__in=Hold.objects.filter(closed_at=None).values("lot_id"))
    pieces: dict[tuple[int, int], int] = defaultdict(int)
    came: dict[tuple[int, int], datetime] = {}
    # Sifted on four columns: hundreds may lie about, and only the first few are told in words.
    for lot, site, since, balance in accounts.order_by("since", "id").values_list("lot", "site", "since", "balance"):
        pieces[lot, site] += balance
        if at := usual[site].here_since(lot, since):
            came[lot, site] = min(at, came.get((lot, site), at))
    found = [
        Overstay(at, lot, site, pieces[lot, site]) for (lot, site), at in came.items() if usual[site].is_over(at, now)
    ]
    return sorted(found, key=lambda row: (row.since, row.lot_id, row.site_id))


def lying_since() -> dict[int, datetime]:
    """Sites where goods lie, suppliers left out, with the moment from which the first of them has lain there."""
    lying = Account.objects.filter(condition__in=LYING, balance__gt=0).exclude(site__kind=SiteKind.SUPPLIER)
    rows = lying.filter(since__isnull=False).order_by().values_list("site_id")
    return dict(rows.annotate(first=Min("since")))


def heard_line(usual: dict[int, Usual], now: datetime) -> list[dict[str, object]]:
    """The as-of line: each site where goods lie, when it was heard, and whether it is too quiet."""
    lying = lying_since()
    return [
        {"site": row.site.name, "when": row.heard, "overdue": row.is_silent(lying[pk], now)}
        for pk, row in usual.items()
        if pk in lying
    ]


def heard_words(heard: datetime | None, now: datetime) -> str:
    """How long ago a site was heard from."""
    if heard is None:
        return _("not heard from yet")
    return _("heard %(lapse)s ago") % {"lapse": lapse_words(now - heard)}


def days_words(days: int) -> str:
    """A length in working days, as pieces' stays and what is usual are told alike."""
    if not days:
        return _("under 1 working day")
    return ngettext("%(n)d working day", "%(n)d working days", days) % {"n": days}


def usual_words(stay: UsualStay) -> str:
    """In a cell: the measured length, or the agreed one, which is assumed."""
    if stay.median is None:
        return _("%(days)s agreed") % {"days": days_words(stay.agreed)}
    return days_words(stay.median)


def bound_words(stay: UsualStay) -> str:
    """What a stay is held against: "usually 3 working days, 4 in 5 visits end within 6 (12 measured)"."""
    if stay.median is None:
        return _("%(days)s agreed") % {"days": days_words(stay.agreed)}
    figures = {"days": days_words(stay.median), "over": whole(stay.over), "agreed": whole(stay.agreed)}
    if stay.high is None:
        return _("usually %(days)s (%(over)s visits measured), %(agreed)s agreed") % figures
    figures["high"] = whole(stay.high) if stay.high else _("the same day")
    return _("usually %(days)s, 4 in 5 visits end within %(high)s (%(over)s measured)") % figures


def measured_words(stay: UsualStay) -> str:
    """Under a site's facts: of how many visits a stay was measured, or why it is only assumed."""
    counted = ngettext("%(n)s visit is over", "%(n)s visits are over", stay.over) % {"n": whole(stay.over)}
    if stay.at_least:
        counted = _("%(over)s, of %(open)s more only the least length is known") % {
            "over": counted, "open": whole(stay.at_least),
        }  # fmt: skip
    if stay.median is not None:
        return _("How long a batch stays is measured: %(counted)s.") % {"counted": counted}
    few = _("How long a batch stays is assumed as agreed: %(counted)s; it is told as measured from %(n)s on.")
    return few % {"counted": counted, "n": MEDIAN_FROM}
