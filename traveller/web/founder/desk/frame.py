"""The founder's desk: the one moment and the zone that a page is seen in, and what every page of hers carries."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import wraps
from typing import Any, Concatenate, ParamSpec
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone

from sites.actor import Actor
from sites.models import Site, SiteKind
from traveller.journal.event_context import EventContext
from traveller.journal.refusal import Refusal
from traveller.web.door import event_context_from, new_uid
from traveller.web.parts.figures import take_meanings
from traveller.web.who import founder_only, who_of

P = ParamSpec("P")


@dataclass(frozen=True, slots=True)
class Desk:
    """The moment of this page, and the own bench, in whose zone the founder reads."""

    now: datetime
    bench: Site | None
    zone: ZoneInfo

    @property
    def today(self) -> date:
        return self.now.astimezone(self.zone).date()


def _own_bench() -> Site | None:
    return Site.objects.filter(kind=SiteKind.OWN).order_by("pk").first()


def founder_page(
    view: Callable[Concatenate[HttpRequest, Desk, P], HttpResponse],
) -> Callable[..., HttpResponse]:
    """A page of the founder's: hers alone, and all of it seen from one moment in her own bench's zone."""

    @wraps(view)
    def seen(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        bench = _own_bench()
        zone = bench.zone if bench else ZoneInfo("UTC")
        take_meanings(request)
        with timezone.override(zone):
            return view(request, Desk(timezone.now(), bench, zone), *args, **kwargs)

    return founder_only(seen)


def show(
    request: HttpRequest, desk: Desk, template: str, context: Mapping[str, Any], *, status: int = 200
) -> HttpResponse:
    """Render one of the founder's templates with what they all need."""
    who = who_of(request)
    shared = {
        "at": desk.now,
        "today": desk.today,
        "news_id": str(new_uid()),
        # Called anew by each form that names it, so that two forms of one page are two pieces of news.
        "fresh_id": new_uid,
        "speaks_for": who.site if who.shop is not None and who.shop.on_behalf else None,
    }
    return render(request, f"web/founder/{template}", {**shared, **context}, status=status)


def founder_of(request: HttpRequest) -> Actor:
    """Who is behind the founder's deeds on this page."""
    founder = who_of(request).founder
    if founder is None:
        raise RuntimeError("founder_page lets nobody else in")
    return founder


def event_context_of(request: HttpRequest, desk: Desk) -> EventContext | Refusal:
    """The event context of a form of the founder's own."""
    return event_context_from(request, founder_of(request), desk.zone)


def link_to(name: str, *args: object) -> str:
    """The address of a page, or none where no such page is served."""
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""
