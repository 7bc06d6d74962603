"""What every page of a shop shares: who is here, what this pass may see, how an answer is rendered."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from functools import wraps
from typing import Any
from urllib.parse import quote

from django.db import InterfaceError, OperationalError
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from sites.access import narrow
from sites.actor import Actor
from sites.models import Site
from traveller.batches.models import Batch, Load, Step
from traveller.journal.refusal import Refusal
from traveller.journal.unable import UNABLE
from traveller.web.answered import after_refusal
from traveller.web.door import new_uid, queued_of
from traveller.web.operator.reads import step_at
from traveller.web.parts.figures import named, take_meanings
from traveller.web.parts.resubmitting import is_reported, tell_waiting
from traveller.web.who import View, shop_only, who_of
from traveller.web.words import say

# What was typed is at fault, not the state of things.
BAD_INPUT = frozenset(
    (
        "form_without_id",
        "time_unreadable",
        "time_in_the_future",
        "time_long_past",
        "late_reason_needed",
        "reason_needed",
        "not_a_quantity",
        "tote_quantities",
        "rest_unexplained",
    )
)


def at_work(view: View) -> View:
    """For an operator's pass whose person has tapped a name, or the founder on behalf of the site."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        who = who_of(request)
        if who.shop is not None and not who.shop.person:
            back = request.get_full_path() if request.method == "GET" else "/here/"
            return redirect(f"/person?next={quote(back)}")
        take_meanings(request)
        # What was in force before is so again: the founder's page may have called this one.
        with timezone.override(site_of(request).zone):
            answer = view(request, *args, **kwargs)
        if request.method == "POST" and is_reported(answer) and queued_of(request) is None:
            # What a phone told before its cause may be booked now. If not at this moment, then after the next news.
            with suppress(OperationalError, InterfaceError):
                tell_waiting(request, site_of(request))
        return answer

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
    rows = Batch.objects.select_related("part", "lot", "subject", "destination").defer("part__picture")
    return narrow(rows, actor_of(request), "steps__site", "destination")


def step_here(request: HttpRequest, step_id: int) -> Step:
    actor = actor_of(request)
    found = step_at(step_id, actor.site_id) if actor.site_id is not None else None
    if found is None:
        raise Http404
    return found


def load_here(request: HttpRequest, load_id: int) -> Load:
    rows = Load.objects.select_related("step__batch__part", "step__operation", "step__site")
    return get_object_or_404(
        narrow(rows.defer("step__batch__part__picture"), actor_of(request), "step__site"), pk=load_id
    )


def page(
    request: HttpRequest, template: str, context: dict[str, Any], *, refusal: Refusal | None = None, status: int = 200
) -> HttpResponse:
    """Render a shop's page; a refusal stands on it in words, with what was typed still in the fields."""
    wrong = context.get("wrong", {})
    if queued_of(request):
        return _unsaid(request, wrong, refusal)
    named(wrong)
    actor = actor_of(request)
    kept = bool(getattr(request, "kept", False))
    shared = {
        "site": site_of(request),
        "person": actor.person,
        "by_phone": actor.on_behalf,
        "packs": actor.kind == "packer",
        "here_path": request.get_full_path() if request.method == "GET" else "/here/",
        "now": timezone.now(),
        # The same page sent twice carries the same id twice; a page that came back keeps its own.
        # One that is kept on a phone has none: it is sent many times, and each time is a telling of its own.
        "news_id": request.POST.get("news_id") or ("" if kept else str(new_uid())),
        "refusal": say(refusal.code, refusal.figures) if refusal else "",
        "refusal_code": refusal.code if refusal else "",
        "bound": request.method == "POST",
        "wrong": {},
        "values": request.POST,
    }
    if refusal:
        shared |= after_refusal(refusal, request.POST.get("news_id", ""))
    if refusal and status == 200:
        status = 422 if refusal.code in BAD_INPUT else 503 if refusal.code in UNABLE else 409
    answer = render(request, f"web/operator/{template}", {**shared, **context}, status=status)
    if request.method == "GET":
        # Going back must fetch the page anew: one from the history would carry the id of news already told.
        answer["Cache-Control"] = "no-store"
    return answer


def _unsaid(request: HttpRequest, wrong: dict[str, str], refusal: Refusal | None) -> HttpResponse:
    """For news that waited on a phone nobody looks at a page: why it was not taken, as data.

    Where nothing is wrong but that figures can mean two things, that is a question, and its answers go along.
    """
    asked = named(wrong)
    if asked and set(asked) == set(wrong) and refusal is None:
        figures = {"text": ", ".join(request.POST.get(field, "").strip() for field in asked), "asked": asked}
        words = say("two_meanings", figures)
        return JsonResponse({"code": "two_meanings", "figures": figures, "words": words, "asked": True}, status=422)
    words = say(refusal.code, refusal.figures) if refusal else " ".join(dict.fromkeys(wrong.values()))
    code = refusal.code if refusal else "wrong_fields" if wrong else "form_came_back"
    return JsonResponse(
        {"code": code, "figures": refusal.figures if refusal else {}, "words": words, "wrong": wrong},
        status=422,
    )
