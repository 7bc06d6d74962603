"""Goods go back to where they came from, with a reason: pieces to a step that is done again, material as it is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from sites.models import Site
from traveller.batches.steps.fetch import way_of
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import ConsignmentLine, SentFor
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Account, Condition
from traveller.products.models import Operation, OperationKind
from traveller.web.operator.again import sent_again
from traveller.web.operator.reporting import already_recorded, ask, reported_url, said_no, unanswered
from traveller.web.operator.scan import LYING_HERE
from traveller.web.operator.sending import chosen_of, field_of, papers_context, read_rows, tell_sent, with_spreads
from traveller.web.operator.shop import at_work, page, site_of
from traveller.web.operator.weighing import how_context, how_counted, questions
from traveller.web.words import say

_ROWS_MAX = 60


@at_work
def send_back(request: HttpRequest) -> HttpResponse:
    """First where to, then how many of what, to which step, and why."""
    again = sent_again(request)
    if again:
        return redirect(reported_url("here_sent", again.code, reported=request.POST["news_id"]))
    site = site_of(request)
    shelf = list(
        Account.objects.filter(site=site, condition__in=LYING_HERE, balance__gt=0)
        .select_related("lot__part", "lot__batch")
        .defer("lot__part__picture")
        .order_by("lot_id", "step")[:_ROWS_MAX]
    )
    ways = _ways(shelf, site)
    chosen = chosen_of(request, ways)
    rows = with_spreads([row for way in ways if way["site"] == chosen for row in _rows(request, way)])
    context: dict[str, Any] = {"rows": rows, "ways": ways, "to": chosen, **how_context(request)}
    context |= papers_context(request, site, chosen)
    if request.method != "POST" or said_no(request) or chosen is None:
        return page(request, "send_back.html", context)
    how, wrong = how_counted(request)
    lines, counted = read_rows(request, rows, how, wrong)
    if not request.POST.get("note", "").strip():
        wrong["note"] = say("return_needs_a_reason")
    if wrong:
        return page(request, "send_back.html", {**context, "wrong": wrong}, status=422)
    asked = unanswered(request, [] if already_recorded(request) else questions(how, counted))
    if asked:
        return ask(request, asked, context)
    answer = tell_sent(request, site, chosen, lines, SentFor.RETURN)
    return page(request, "send_back.html", context, refusal=answer) if isinstance(answer, Refusal) else answer


def _ways(shelf: Iterable[Account], site: Site) -> list[dict[str, Any]]:
    """Sites to which something can go back: those of its earlier steps; for material, where it came from."""
    found: dict[int, dict[str, Any]] = {}
    lots = [account.lot_id for account in shelf]
    came = ConsignmentLine.objects.filter(lot__in=lots, consignment__destination=site)
    origins: dict[int, dict[int, Site]] = {}
    for line in came.select_related("consignment__origin"):
        origins.setdefault(line.lot_id, {})[line.consignment.origin_id] = line.consignment.origin
    for account in shelf:
        if hasattr(account.lot, "batch"):
            steps = _steps_elsewhere(account, site)
        else:
            steps = {pk: (where, []) for pk, where in origins.get(account.lot_id, {}).items()}
        for pk, (where, operations) in steps.items():
            way = found.setdefault(pk, {"site": where, "goods": []})
            way["goods"].append((account, operations))
    return list(found.values())


def _steps_elsewhere(account: Account, site: Site) -> dict[int, tuple[Site, list[Operation]]]:
    """By site, the steps that these pieces have behind them there."""
    waits = account.condition in (Condition.IN_PROCESS, Condition.REWORK)
    found: dict[int, tuple[Site, list[Operation]]] = {}
    for operation in way_of(account.lot.batch):
        behind = account.step == 0 or operation.number < account.step + (0 if waits else 1)
        if behind and operation.site_id != site.pk and operation.kind != OperationKind.PREPARE:
            found.setdefault(operation.site_id, (operation.site, []))[1].append(operation)
    return found


def _rows(request: HttpRequest, way: dict[str, Any]) -> list[dict[str, Any]]:
    return [_row(request, account, operations) for account, operations in way["goods"]]


def _row(request: HttpRequest, account: Account, operations: list[Operation]) -> dict[str, Any]:
    """One shelf: its field, and the step to be done again (the last one there, unless another is chosen)."""
    name = f"step:{account.pk}"
    chosen = next((o for o in operations if str(o.number) == request.POST.get(name)), None)
    if chosen is None and operations:
        chosen = operations[-1]
    to_step = chosen.number if chosen else 0
    line = SendLine(account.lot_id, 0, from_step=account.step, condition=account.condition)
    return {
        "account": account,
        "waits": account.condition in (Condition.IN_PROCESS, Condition.REWORK),
        "line": replace(line, to_step=to_step),
        "steps": operations,
        "step_field": name,
        "to_step": to_step,
        **field_of(request, account),
    }
