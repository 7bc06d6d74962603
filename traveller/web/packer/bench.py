"""What every page of the packer shares: who packs, at which bench, how an answer is rendered."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import wraps
from typing import Any
from urllib.parse import quote

from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from sites.actor import Actor
from sites.models import Site, SiteKind
from traveller.journal.refusal import Refusal
from traveller.journal.unable import UNABLE
from traveller.orders.models import OrderLine
from traveller.shipping.models import Carton
from traveller.shipping.queries import cartons_here
from traveller.web.answered import after_refusal
from traveller.web.door import new_uid
from traveller.web.parts.figures import take_meanings
from traveller.web.who import View, shop_only, who_of
from traveller.web.words import say

# What was typed is at fault. What no typing can mend is a 503, all else the state of things: 409.
_BAD_INPUT = frozenset(
    (
        "form_without_id",
        "time_unreadable",
        "time_in_the_future",
        "time_long_past",
        "not_a_quantity",
        "reason_needed",
        "damaged_code",
    )
)


def packs(view: View) -> View:
    """For a packing pass at the maker's own bench, once a name is tapped; or the founder on its behalf."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if site_of(request).kind != SiteKind.OWN:
            raise Http404
        if not actor_of(request).person:
            back = request.get_full_path() if request.method == "GET" else "/pack/"
            return redirect(f"/person?next={quote(back)}")
        take_meanings(request)
        timezone.activate(site_of(request).zone)
        try:
            return view(request, *args, **kwargs)
        finally:
            timezone.deactivate()

    allowed: Callable[[View], View] = shop_only("packer")
    return allowed(guarded)


def actor_of(request: HttpRequest) -> Actor:
    shop = who_of(request).shop
    if shop is None:
        raise Http404
    return shop


def site_of(request: HttpRequest) -> Site:
    site = who_of(request).site
    if site is None:
        raise Http404
    return site


def today_at(site: Site) -> date:
    """The day at the bench: what expires does so by its calendar."""
    return timezone.localtime(timezone.now(), site.zone).date()


def line_here(line_id: int) -> OrderLine:
    """An order line; every line is packed at the own bench, so there is nothing to narrow beyond it."""
    rows = OrderLine.objects.select_related("order", "part").defer("part__picture")
    return get_object_or_404(rows, pk=line_id)


def carton_here(request: HttpRequest, code: str) -> Carton:
    rows = Carton.objects.filter(site=site_of(request)).select_related("line__order", "line__part", "shipment")
    return get_object_or_404(rows.defer("line__part__picture"), code=code.replace("\0", ""))


def cartons_of(request: HttpRequest, order_id: int) -> QuerySet[Carton]:
    return cartons_here(site_of(request)).filter(line__order=order_id)


def page(
    request: HttpRequest, template: str, context: dict[str, Any], *, refusal: Refusal | None = None, status: int = 200
) -> HttpResponse:
    """Render a packer's page; a refusal stands on it in words, with what was typed still in the fields."""
    actor = actor_of(request)
    shared = {
        "site": site_of(request),
        "person": actor.person,
        "by_phone": actor.on_behalf,
        # Where tapping another name leads back to: a page that can be opened by its address.
        "here_path": request.get_full_path() if request.method == "GET" else reverse("pack"),
        "now": timezone.now(),
        # The same page sent twice carries the same id twice; a page that came back keeps its own.
        "news_id": request.POST.get("news_id") or str(new_uid()),
        "refusal": say(refusal.code, refusal.figures) if refusal else "",
        "bound": request.method == "POST",
    }
    if refusal:
        shared |= after_refusal(refusal, request.POST.get("news_id", ""))
    if refusal and status == 200:
        status = 422 if refusal.code in _BAD_INPUT else 503 if refusal.code in UNABLE else 409
    return render(request, f"web/packer/{template}", {**shared, **context}, status=status)
