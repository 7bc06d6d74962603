"""Reads that pages need. Each costs a constant number of queries, however many sites there are."""

from __future__ import annotations

from datetime import date, datetime

from django.db.models import Count, Prefetch, Q, QuerySet

from sites.models import Closure, Lane, Site, SitePass


def every_site_with_passes() -> QuerySet[Site]:
    """All sites by name, each with the number of its live passes in `live_passes`."""
    return Site.objects.annotate(live_passes=Count("passes", filter=Q(passes__revoked_at=None))).order_by("name")


def one_site(code: str, today: date) -> Site | None:
    """A site with its people, lanes, passes and the closures that are not over."""
    ahead = Closure.objects.filter(last_day__gte=today).order_by("first_day")
    rows = Site.objects.filter(code=code).prefetch_related(
        "people",
        Prefetch("closures", ahead, to_attr="closures_ahead"),
        Prefetch("lanes_out", Lane.objects.select_related("destination").order_by("destination__name")),
        Prefetch("lanes_in", Lane.objects.select_related("origin").order_by("origin__name")),
        Prefetch("passes", SitePass.objects.order_by("-made_at")),
    )
    return rows.first()


def idle(row: SitePass, now: datetime) -> bool:
    """Was a pass unused for longer than it may be? Then it no longer opens the door."""
    return (now - (row.last_seen_at or row.made_at)).days > row.idle_days_max
