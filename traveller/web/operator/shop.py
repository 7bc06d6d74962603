"""What every page of a shop shares: who is here, what this pass may see, how an answer is rendered."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any
from urllib.parse import quote

from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from sites.access import narrow
from sites.actor import Actor
from sites.models import Site
from traveller.batches.models import Batch, Load, Step
from traveller.journal.refusal import Refusal
from traveller.web.door import new_uid
from traveller.web.who import View, shop_only, who_of
from traveller.web.words import say


def at_work(view: View) -> View:
    """For an operator's pass whose person has tapped a name, or the founder on behalf of the site."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        who = who_of(request)
        if who.shop is not None and not who.shop.person:
            return redirect(f"/person?next={quote(request.get_full_path())}")
        timezone.activate(site_of(request).zone)
        try:
            return view(request, *args, **kwargs)
        finally:
            timezone.deactivate()

    allowed: Callable[[View], View] = shop_only("operator", "packer")
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


def batches_here(request: HttpRequest) -> QuerySet[Batch]:
    """Batches that have a step at this site, or are wanted here in the end."""
    rows = Batch.objects.select_related("part", "lot", "subject", "destination")
    return narrow(rows, actor_of(request), "steps__site", "destination")


def step_here(request: HttpRequest, step_id: int) -> Step:
    rows = Step.objects.select_related("batch__part", "batch__lot", "batch__destination", "operation", "site")
    return get_object_or_404(narrow(rows, actor_of(request), "site"), pk=step_id)


def load_here(request: HttpRequest, load_id: int) -> Load:
    rows = Load.objects.select_related("step__batch__part", "step__operation", "step__site")
    return get_object_or_404(narrow(rows, actor_of(request), "step__site"), pk=load_id)


def page(
    request: HttpRequest, template: str, context: dict[str, Any], *, refusal: Refusal | None = None, status: int = 200
) -> HttpResponse:
    """Render a shop's page; a refusal stands on it in words, with what was typed still in the fields."""
    site = site_of(request)
    shared = {
        "site": site,
        "person": actor_of(request).person,
        "by_phone": actor_of(request).on_behalf,
        "now": timezone.now(),
        # The same page sent twice carries the same id twice; a page that came back keeps its own.
        "news_id": request.POST.get("news_id") or str(new_uid()),
        "refusal": say(refusal.code, refusal.figures) if refusal else "",
        "bound": request.method == "POST",
    }
    if refusal and status == 200:
        status = 409
    return render(request, f"web/operator/{template}", {**shared, **context}, status=status)


def step_line(step: Step) -> str:
    return f"{step.number} · {step.operation.verb}"
