"""Goods arrive: counted before the sender's figure is shown, then both stand side by side."""

from __future__ import annotations

from typing import Any, cast
from uuid import UUID, uuid5

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from sites.access import narrow
from traveller.batches.actions.receive import arrived_unannounced, receive
from traveller.consignments.models import Consignment, ConsignmentLine
from traveller.journal.models import Event, Parked
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Lot
from traveller.rules.codes import Damaged, read
from traveller.rules.counts import Count, Method, compare
from traveller.rules.units import show_quantity
from traveller.web.door import Asked, attempt
from traveller.web.operator.figures import SHOP_UNITS, read_quantity
from traveller.web.operator.sending import METHODS, how_counted, row_errors
from traveller.web.operator.shop import actor_of, at_work, batches_here, page, site_of
from traveller.web.operator.telling import (
    ask,
    event_here,
    just_told,
    retold,
    said_no,
    stamp_here,
    told_url,
    unanswered,
)
from traveller.web.words import say

# A batch's tote holds no more than this without somebody having slipped a figure.
MANY = 100_000


def arriving(request: HttpRequest, code: str) -> Consignment:
    rows = Consignment.objects.select_related("origin", "destination")
    return get_object_or_404(narrow(rows, actor_of(request), "destination"), code=code)


@at_work
def arrival(request: HttpRequest, code: str) -> HttpResponse:
    """Count what arrived before seeing what was sent: the page does not show the sender's figure."""
    consignment = arriving(request, code)
    lines = list(consignment.lines.select_related("lot__part").defer("lot__part__picture").order_by("id"))
    rows = [_row(request, line) for line in lines if not line.closed]
    told = _told_here(consignment)
    context: dict[str, Any] = {
        "consignment": consignment,
        "rows": rows,
        "counted": [_counted(line, told.get(line.pk)) for line in lines if line.closed],
        "methods": METHODS,
        "confirmed": _confirmed(request, lines),
    }
    if request.method != "POST" or not rows or said_no(request):
        return page(request, "arrival.html", context)
    method, sample, wrong = how_counted(request)
    counts = _read(request, rows, wrong)
    if wrong:
        return page(request, "arrival.html", {**context, "wrong": wrong}, status=422)
    asked = unanswered(request, _odd(counts))
    if asked:
        return ask(request, asked, context)
    stamp = stamp_here(request)
    if isinstance(stamp, Refusal):
        return page(request, "arrival.html", context, refusal=stamp)
    for line, quantity in counts:
        answer = attempt(
            receive,
            stamp=stamp.derived(_name(line)),
            line_id=line.pk,
            quantity=quantity,
            method=method,
            sample=sample,
            seen=request.POST.get("seen") == "yes",
            more_to_come=request.POST.get("more") == "yes",
        )
        if isinstance(answer, Refusal):
            return page(request, "arrival.html", context, refusal=answer)
    return redirect(told_url("here_arrival", code, told=str(stamp.uid)))


def _name(line: ConsignmentLine) -> str:
    return f"line:{line.pk}"


def _confirmed(request: HttpRequest, lines: list[ConsignmentLine]) -> str:
    """The form's id, once what it told stands in the journal line by line."""
    try:
        uid = UUID(request.GET.get("told", ""))
    except ValueError:
        return ""
    told = any(event_here(request, str(uuid5(uid, _name(line)))) for line in lines)
    return str(uid) if told else ""


def _row(request: HttpRequest, line: ConsignmentLine) -> dict[str, Any]:
    unit = line.lot.part.unit
    return {
        "line": line,
        "part": line.lot.part,
        "field": _name(line),
        "id": f"id_line{line.pk}",
        "unit": SHOP_UNITS[unit],
        "whole": unit == "C62",
        "value": request.POST.get(_name(line), ""),
        "so_far": show_quantity(line.received, cast(Any, unit)) if line.received else "",
    }


def _read(request: HttpRequest, rows: list[dict[str, Any]], wrong: dict[str, str]) -> list[tuple[ConsignmentLine, int]]:
    counts = []
    for row in rows:
        quantity = read_quantity(request.POST.get(row["field"], ""), row["part"].unit)
        if isinstance(quantity, str):
            wrong[row["field"]] = quantity
        else:
            counts.append((row["line"], quantity))
    row_errors(rows, wrong)
    return counts


def _odd(counts: list[tuple[ConsignmentLine, int]]) -> list[Asked]:
    """Asked without a word about what was sent."""
    found = [Asked("nothing_arrived", {})] if any(quantity == 0 for _line, quantity in counts) else []
    pieces = [quantity for line, quantity in counts if line.lot.part.unit == "C62" and quantity > MANY]
    return found + ([Asked("very_many", {"counted": pieces[0]})] if pieces else [])


def _told_here(consignment: Consignment) -> dict[int, int]:
    """What this site counted, line by line: what was booked may be the sender's figure, where that is finer."""
    found: dict[int, int] = {}
    for event in Event.objects.filter(kind="received", about__subject=consignment.subject_id):
        quantity, line = event.data["told"].get("quantity"), event.data["line"]
        if quantity is not None:
            found[line] = found.get(line, 0) + quantity
    return found


def _counted(line: ConsignmentLine, told: int | None) -> dict[str, Any]:
    """Both figures once the receiver's stands, and the least difference that such counts can tell."""
    counted = line.received if told is None else told
    theirs = Count(line.sent, cast(Method, line.sent_method), line.sent_sample)
    ours = Count(counted, cast(Method, line.received_method or "hand"), line.received_sample)
    unit = cast(Any, line.lot.part.unit)
    found = compare(theirs, ours)
    return {
        "line": line,
        "part": line.lot.part,
        "sent": show_quantity(line.sent, unit),
        "counted": show_quantity(counted, unit),
        "booked": show_quantity(line.received, unit),
        "booked_theirs": line.received != counted,
        "resolves": show_quantity(found.resolves, unit),
        "exact": found.resolves == 0,
        "difference": show_quantity(abs(found.difference), unit),
        "same": found.difference == 0,
        "short": found.difference < 0,
        "inside": line.difference == 0 or line.settled_event_id is not None,
    }


@at_work
def unannounced(request: HttpRequest) -> HttpResponse:
    """Goods are here that nobody has told were sent: taken, parked, booked when the sender tells."""
    context: dict[str, Any] = {"code": request.POST.get("code", request.GET.get("code", ""))}
    if request.method != "POST" or said_no(request):
        return _taken(request) or page(request, "unannounced.html", context)
    lot = _lot(request, context["code"])
    quantity = read_quantity(request.POST.get("quantity", ""), lot.part.unit if lot else "C62")
    wrong = {}
    if lot is None:
        wrong["code"] = say("no_lot_comes_here")
    if isinstance(quantity, str):
        wrong["quantity"] = quantity
    if lot is None or isinstance(quantity, str):
        return page(request, "unannounced.html", {**context, "wrong": wrong}, status=422)
    asked = unanswered(request, [] if retold(request) else _odd_surprise(lot, quantity))
    if asked:
        return ask(request, asked, {"batch": None})
    stamp = stamp_here(request)
    if isinstance(stamp, Refusal):
        return page(request, "unannounced.html", context, refusal=stamp)
    answer = attempt(arrived_unannounced, stamp=stamp, site_id=site_of(request).pk, lot_id=lot.pk, quantity=quantity)
    if isinstance(answer, Refusal):
        return page(request, "unannounced.html", context, refusal=answer)
    return redirect(told_url("here_unannounced", told=str(answer.event.uid)))


def _odd_surprise(lot: Lot, quantity: int) -> list[Asked]:
    many = lot.part.unit == "C62" and quantity > MANY
    return [Asked("very_many", {"counted": quantity})] if many else []


def _lot(request: HttpRequest, text: str) -> Lot | None:
    scan = read(text)
    if isinstance(scan, Damaged):
        return None
    batch = batches_here(request).filter(code=scan.code).select_related("lot__part").first()
    return batch.lot if batch else None


def _taken(request: HttpRequest) -> HttpResponse | None:
    """What was just taken in without notice, and what becomes of it."""
    told = just_told(request)
    parked = Parked.objects.filter(event__uid=told).select_related("event").first() if told else None
    if parked is None:
        return None
    batch = batches_here(request).filter(lot=parked.event.data["told"]["lot"]).first()
    words = "" if parked.settled_by_id else say(parked.reason, parked.figures)
    return page(request, "unannounced_told.html", {"words": words, "batch": batch, "confirmed": told})
