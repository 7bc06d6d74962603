"""Goods arrive: counted before the sender's figure is shown, then both stand side by side."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any, cast
from uuid import UUID, uuid5

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from sites.access import narrow
from traveller.batches.actions.count_again import count_again
from traveller.batches.actions.receive import arrived_unannounced, receive
from traveller.batches.actions.receive_mixed import receive_mixed
from traveller.batches.models import Batch
from traveller.batches.usable import usable
from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.dispatches.weighed import piece_spreads
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Lot
from traveller.web.door import attempt, queued_of
from traveller.web.language.numbers import quantity_words
from traveller.web.operator.again import arrived_again
from traveller.web.operator.arrival_questions import (
    ask_arrival,
    first_count,
    questions_of,
    shown_before,
    still_on_the_road,
    typed_lines,
    was_seen,
)
from traveller.web.operator.both_counts import counted_rows
from traveller.web.operator.own_numbers import note_number
from traveller.web.operator.reporting import (
    event_context_here,
    event_here,
    note_of,
    reported_url,
    said_no,
    unanswered,
)
from traveller.web.operator.sending import owner_of_goods, row_errors
from traveller.web.operator.shop import actor_of, at_work, page
from traveller.web.operator.weighing import CountedHere, How, how_context, how_counted, read_totes
from traveller.web.parts.figures import SHOP_UNITS
from traveller.web.words import say


def arriving(request: HttpRequest, code: str) -> Consignment:
    rows = Consignment.objects.select_related("origin", "destination")
    return get_object_or_404(narrow(rows, actor_of(request), "destination"), code=code)


@at_work
def arrival(request: HttpRequest, code: str) -> HttpResponse:
    """Count what arrived before seeing what was sent: the page does not show the sender's figure."""
    consignment = arriving(request, code)
    lines = list(
        consignment.lines.select_related("lot__part", "settled_event", "consignment")
        .defer("lot__part__picture")
        .order_by("id")
    )
    if request.method == "POST" and arrived_again(request, lines):
        return redirect(reported_url("here_arrival", code, reported=request.POST["news_id"]))
    rows = _rows(request, lines)
    context = _context(request, consignment, lines, rows)
    if request.method != "POST" or not rows or said_no(request):
        return page(request, "arrival.html", context)
    how, wrong = how_counted(request)
    together, counts = _read(request, context["mixes"], rows, how, wrong)
    if wrong:
        row_errors([*rows, *context["mixes"]], wrong)
        return page(request, "arrival.html", {**context, "wrong": wrong}, status=422)
    left = sum(not line.closed for line in lines)
    if asked := unanswered(request, questions_of(request, consignment, how, together, counts, left)):
        return ask_arrival(request, asked, context)
    event_context = event_context_here(request)
    answer = event_context if isinstance(event_context, Refusal) else _take_in(request, event_context, together, counts)
    if isinstance(answer, Refusal):
        return page(request, "arrival.html", context, refusal=answer)
    _note_own_number(request, event_context, rows)
    return redirect(reported_url("here_arrival", code, reported=request.POST["news_id"]))


def _note_own_number(request: HttpRequest, event_context: EventContext | Refusal, rows: list[dict[str, Any]]) -> None:
    if len(rows) == 1 and isinstance(event_context, EventContext):
        note_number(request, event_context, lot_id=rows[0]["line"].lot_id)


def _rows(request: HttpRequest, lines: list[ConsignmentLine]) -> list[dict[str, Any]]:
    """Fields for what is open, for what was typed though it is closed by now, and for what was taken back by its
    sender and is here all the same."""
    typed, anew = typed_lines(request, lines), request.GET.get("here") == "yes"
    shown = [
        line for line in lines if not line.closed or line in typed or (anew and line.taken_back_event_id is not None)
    ]
    spreads = piece_spreads(line.lot.part_id for line in shown)
    return [_row(request, line, spreads[line.lot.part_id].cv_ppm) for line in shown]


def _context(
    request: HttpRequest, consignment: Consignment, lines: list[ConsignmentLine], rows: list[dict[str, Any]]
) -> dict[str, Any]:
    """Fields for what is open, and of what is counted both figures."""
    return {
        "consignment": consignment,
        "rows": rows,
        # The page itself has shown it, since more had been counted.
        "shown_here": any(row.get("sent") for row in rows),
        "mixes": _mixes(request, rows),
        "counted": counted_rows(consignment, lines),
        "struck": [line for line in lines if line.taken_back_event_id],
        "settles": owner_of_goods(),
        "born": _born(consignment),
        "confirmed": _confirmed(request, lines),
        **how_context(request),
    }


def _take_in(
    request: HttpRequest,
    event_context: EventContext,
    together: list[tuple[dict[str, Any], CountedHere]],
    counts: list[tuple[ConsignmentLine, CountedHere]],
) -> Refusal | None:
    """Each line is news of its own, under an id that follows from the form's. What another phone counted meanwhile
    comes last: it keeps nothing else from being recorded."""
    for mix, counted in together:
        answer: object = attempt(
            receive_mixed,
            event_context=event_context.derived(_name(mix["lines"][0])),
            line_ids=[line.pk for line in mix["lines"]],
            seen=was_seen(request),
            note=note_of(request)[:200],
            **_figures(counted),
        )
        if isinstance(answer, Refusal):
            return answer
    for line, counted in sorted(counts, key=lambda one: one[0].closed):
        answer = _take_line(request, event_context.derived(_name(line)), line, counted)
        if isinstance(answer, Refusal):
            return answer
    return None


def _take_line(
    request: HttpRequest, event_context: EventContext, line: ConsignmentLine, counted: CountedHere
) -> object:
    said = {"event_context": event_context, "note": note_of(request)[:200], **_figures(counted)}
    if line.taken_back_event_id:
        # It came all the same: news for the founder, and for the dispatch that is told next.
        place = {"site_id": line.consignment.destination_id, "lot_id": line.lot_id}
        return attempt(arrived_unannounced, **said, **place, dispatch=line.consignment.code)
    queued = queued_of(request)
    if line.closed and queued is not None and queued.taken:
        # Another phone was first; the founder has looked at both counts and takes this one.
        return attempt(count_again, **said, line_id=line.pk, seen=was_seen(request))
    more = request.POST.get("more") == "yes" or still_on_the_road(request, counted)
    return attempt(
        receive,
        **said,
        line_id=line.pk,
        seen=was_seen(request),
        first=first_count(request, line),
        more_to_come=more,
        rest_due=_rest_due(request) if more else None,
    )


def _figures(counted: CountedHere) -> dict[str, Any]:
    figures = {"quantity": counted.quantity, "method": counted.method, "sample": counted.sample}
    return {**figures, "how": counted.how or None}


def _rest_due(request: HttpRequest) -> date | None:
    """A day that cannot be read is none: the rest is on the road all the same."""
    try:
        return date.fromisoformat(request.POST.get("rest_due", "").strip())
    except ValueError:
        return None


def _name(line: ConsignmentLine) -> str:
    return f"line:{line.pk}"


def _confirmed(request: HttpRequest, lines: list[ConsignmentLine]) -> str:
    """The form's id, once what it told stands in the journal: line by line, or a count that was made again."""
    try:
        uid = UUID(request.GET.get("told", ""))
    except ValueError:
        return ""
    reported = any(event_here(request, str(one)) for one in (uid, *(uuid5(uid, _name(line)) for line in lines)))
    return str(uid) if reported else ""


def _born(consignment: Consignment) -> list[dict[str, Any]]:
    """Lots that this arrival made: a surplus that is to be set apart, and what came mixed. They need a label."""
    made = Event.objects.filter(kind__in=("over tolerance", "mixed"), about__subject=consignment.subject_id)
    lots = Lot.objects.filter(born_event__in=made).select_related("part", "born_event", "batch").order_by("id")
    on = timezone.localtime(timezone.now(), consignment.destination.zone).date()
    stops = usable([lot.pk for lot in lots], "send", on)
    return [
        {"lot": lot, "why": say(stop.code, stop.figures) if (stop := stops[lot.pk]) else "", "batch": _batch(lot)}
        for lot in lots
    ]


def _batch(lot: Lot) -> Batch | None:
    return lot.batch if hasattr(lot, "batch") else None


def _row(request: HttpRequest, line: ConsignmentLine, cv_ppm: int) -> dict[str, Any]:
    unit = line.lot.part.unit
    return {
        "line": line,
        "part": line.lot.part,
        "cv_ppm": cv_ppm,
        "field": _name(line),
        "id": f"id_line{line.pk}",
        "unit": SHOP_UNITS[unit],
        "whole": unit == "C62",
        "value": request.POST.get(_name(line), ""),
        "so_far": quantity_words(line.received, unit) if line.received else "",
        "rest_due": line.rest_due,
        **shown_before(request, line, cv_ppm),
    }


def _mixes(request: HttpRequest, rows: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Lots of one part for one step, which may have come in one tote: counted together then."""
    groups: dict[tuple[int, int], list[dict[str, Any]]] = {}
    for row in rows:
        if row["line"].closed:
            continue
        groups.setdefault((row["line"].lot.part_id, row["line"].to_step), []).append(row)
    found = []
    for group in groups.values():
        if len({row["line"].lot_id for row in group}) > 1:
            name = f"mix:{group[0]['line'].pk}"
            found.append(
                {
                    "lines": [row["line"] for row in group],
                    "part": group[0]["part"],
                    "cv_ppm": group[0]["cv_ppm"],
                    "field": name,
                    "id": f"id_mix{group[0]['line'].pk}",
                    "value": request.POST.get(name, ""),
                }
            )
    return found


def _read(
    request: HttpRequest, mixes: list[dict[str, Any]], rows: list[dict[str, Any]], how: How, wrong: dict[str, str]
) -> tuple[list[tuple[dict[str, Any], CountedHere]], list[tuple[ConsignmentLine, CountedHere]]]:
    """What was counted together, and line by line; a line without a count has not come yet."""
    together, counts = [], []
    mixed: set[int] = set()
    for mix in mixes:
        text = request.POST.get(mix["field"], "")
        if text.strip():
            mixed |= {line.pk for line in mix["lines"]}
            counted = read_totes(how, text, mix["part"].unit, mix["cv_ppm"])
            if isinstance(counted, str):
                wrong[mix["field"]] = counted
            else:
                together.append((mix, counted))
    for row in rows:
        text = request.POST.get(row["field"], "")
        if row["line"].pk in mixed or not text.strip():
            continue
        counted = read_totes(how, text, row["part"].unit, row["cv_ppm"])
        if isinstance(counted, str):
            wrong[row["field"]] = counted
        else:
            counts.append((row["line"], counted))
    if not together and not counts and not wrong:
        wrong.update({row["field"]: cast(str, read_totes(How(), "", "C62")) for row in rows})
    return together, counts
