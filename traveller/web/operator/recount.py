"""Both figures are known: what arrived is counted once more. The newest count stands, and both are kept."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from traveller.batches.actions.count_again import count_again
from traveller.dispatches.actions.receive import beyond_sent
from traveller.dispatches.models import ConsignmentLine
from traveller.dispatches.weighed import piece_spreads
from traveller.journal.refusal import Refusal
from traveller.web.door import Asked
from traveller.web.operator.arrival_questions import ask_arrival, over_sent
from traveller.web.operator.arriving import arriving
from traveller.web.operator.both_counts import counted_rows
from traveller.web.operator.reporting import already_recorded, note_of, reported_url, said_no, tell_here, unanswered
from traveller.web.operator.shop import at_work, page
from traveller.web.operator.weighing import CountedHere, how_context, how_counted, questions, read_totes
from traveller.web.parts.figures import SHOP_UNITS

FIELD = "counted"


@at_work
def recount(request: HttpRequest, code: str, line_id: int) -> HttpResponse:
    """Count a line again: one field for all of it that has come."""
    consignment = arriving(request, code)
    rows = consignment.lines.select_related("lot__part", "settled_event", "consignment__origin")
    line = get_object_or_404(rows.defer("lot__part__picture"), pk=line_id)
    if not line.closed or line.taken_back_event_id:
        # There is no count yet, or nothing to count.
        return redirect("here_arrival", code)
    unit = line.lot.part.unit
    context: dict[str, Any] = {
        "consignment": consignment,
        "line": line,
        "one": counted_rows(consignment, [line])[0],
        "part": line.lot.part,
        "unit": SHOP_UNITS[unit],
        "whole": unit == "C62",
        "value": request.POST.get(FIELD, ""),
        "cv_ppm": piece_spreads([line.lot.part_id])[line.lot.part_id].cv_ppm,
        **how_context(request),
    }
    if request.method != "POST" or said_no(request):
        return page(request, "recount.html", context)
    how, wrong = how_counted(request)
    counted = read_totes(how, request.POST.get(FIELD, ""), unit, context["cv_ppm"])
    if isinstance(counted, str):
        wrong[FIELD] = counted
    if wrong or isinstance(counted, str):
        return page(request, "recount.html", {**context, "wrong": wrong}, status=422)
    asked = unanswered(request, [] if already_recorded(request) else [*questions(how, [counted]), *_odd(line, counted)])
    if asked:
        return ask_arrival(request, asked, context)
    answer = tell_here(
        request,
        count_again,
        line_id=line.pk,
        quantity=counted.quantity,
        method=counted.method,
        sample=counted.sample,
        how=counted.how or None,
        note=note_of(request)[:200],
    )
    if isinstance(answer, Refusal):
        return page(request, "recount.html", context, refusal=answer)
    return redirect(reported_url("here_arrival", code, reported=str(answer.event.uid)))


def _odd(line: ConsignmentLine, counted: CountedHere) -> list[Asked]:
    """More than was sent, or nothing at all."""
    if not counted.quantity:
        return [Asked("none_after_all", {})]
    over = beyond_sent(line, counted.quantity, counted.method, counted.sample, counted.scale, again=True)
    return [over_sent(line.lot.part.unit, line.sent, line.sent + over)] if over else []
