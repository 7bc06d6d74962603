"""Goods are here that nobody announced: with a label that is known here, one that is not, or none that can be read."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from traveller.batches.actions.receive import arrived_unannounced
from traveller.batches.actions.unknown import arrived_unknown
from traveller.dispatches.models import ConsignmentLine
from traveller.journal.models import Parked
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Lot
from traveller.products.models import Part
from traveller.rules.codes import Damaged, read
from traveller.web.door import Asked
from traveller.web.operator.arrival_questions import MANY
from traveller.web.operator.reporting import (
    already_recorded,
    ask,
    event_here,
    just_reported,
    note_of,
    reported_url,
    said_no,
    tell_here,
    unanswered,
)
from traveller.web.operator.shop import at_work, batches_here, page, site_of
from traveller.web.operator.weighing import CountedHere, how_context, how_counted, questions, read_totes
from traveller.web.words import say

PARTS_MAX = 24


@at_work
def unannounced(request: HttpRequest) -> HttpResponse:
    """Taken in whatever it is: booked when the sender tells, or matched by the maker.

    A label that is not known here is taken down as words: whose lot it is, or whether there is such a lot, is not said.
    """
    parts = _parts_here(request)
    context: dict[str, Any] = {
        "code": request.POST.get("code", request.GET.get("code", "")).strip(),
        "parts": parts,
        **how_context(request),
    }
    if request.method != "POST" or said_no(request):
        return _taken(request) or page(request, "unannounced.html", context)
    how, wrong = how_counted(request)
    lot, part = _lot(request, context["code"]), _part(request, parts)
    words = request.POST.get("words", "").strip()[:120]
    known = lot.part if lot else part
    if known is None and not words:
        wrong["code"] = say("no_lot_comes_here") if context["code"] else say("say_what_it_is")
    unit = known.unit if known else "C62"
    counted = read_totes(how, request.POST.get("quantity", ""), unit)
    if isinstance(counted, str):
        wrong["quantity"] = counted
    if wrong or isinstance(counted, str):
        return page(request, "unannounced.html", {**context, "wrong": wrong}, status=422)
    asked = unanswered(request, [] if already_recorded(request) else [*_odd(counted, unit), *questions(how, [counted])])
    if asked:
        return ask(request, asked, {"batch": None})
    answer = _tell(request, lot, part, "; ".join(filter(None, (context["code"][:60], words))), counted)
    if isinstance(answer, Refusal):
        return page(request, "unannounced.html", context, refusal=answer)
    return redirect(reported_url("here_unannounced", reported=str(answer.event.uid)))


def _tell(
    request: HttpRequest, lot: Lot | None, part: Part | None, words: str, counted: CountedHere
) -> Parked | Refusal:
    said: dict[str, Any] = {
        "site_id": site_of(request).pk,
        "quantity": counted.quantity,
        "method": counted.method,
        "sample": counted.sample,
        "how": counted.how or None,
        "note": note_of(request)[:200],
    }
    if lot is not None:
        return tell_here(request, arrived_unannounced, lot_id=lot.pk, **said)
    return tell_here(request, arrived_unknown, words=words, part_id=part.pk if part else None, **said)


def _odd(counted: CountedHere, unit: str) -> list[Asked]:
    return [Asked("very_many", {"counted": counted.quantity})] if unit == "C62" and counted.quantity > MANY else []


def _lot(request: HttpRequest, text: str) -> Lot | None:
    """A lot of a batch that comes here, or material that was ever sent here."""
    scan = read(text) if text else None
    if scan is None or isinstance(scan, Damaged):
        return None
    batch = batches_here(request).filter(code=scan.code).select_related("lot__part").first()
    if batch:
        return batch.lot
    came = ConsignmentLine.objects.filter(consignment__destination=site_of(request))
    return Lot.objects.select_related("part").filter(code=scan.code, pk__in=came.values("lot")).first()


def _parts_here(request: HttpRequest) -> list[Part]:
    """What comes to this site: parts of its batches, with their pictures."""
    wanted = batches_here(request).filter(closed_at=None).order_by().values("part")
    return list(Part.objects.filter(pk__in=wanted).defer("picture").order_by("name", "variant")[:PARTS_MAX])


def _part(request: HttpRequest, parts: list[Part]) -> Part | None:
    return next((part for part in parts if str(part.pk) == request.POST.get("part")), None)


def _taken(request: HttpRequest) -> HttpResponse | None:
    """What was just taken in without notice, and what becomes of it."""
    reported = just_reported(request)
    event = event_here(request, reported) if reported else None
    parked = Parked.objects.filter(event=event).select_related("event").first() if event else None
    if parked is None:
        return None
    lot = parked.event.data["told"].get("lot")
    batch = batches_here(request).filter(lot=lot).first() if lot else None
    words = "" if parked.settled_by_id else say(parked.reason, parked.figures)
    context = {"words": words, "batch": batch, "confirmed": reported}
    return page(request, "unannounced_told.html", context)
