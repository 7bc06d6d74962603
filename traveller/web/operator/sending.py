"""Goods leave: what is done here and free goes to one site at a time, tote by tote where they are scanned."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone

from sites.models import Lane, Site
from traveller.batches.actions.send import send
from traveller.batches.files.decoded import being_read_of
from traveller.batches.models import Batch
from traveller.batches.proof.stops import Stop
from traveller.batches.reads import queries
from traveller.batches.steps.fetch import way_of
from traveller.batches.usable import after_step, usable_goods
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import SentFor
from traveller.dispatches.weighed import piece_spreads
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Account
from traveller.products.models import OperationKind
from traveller.web.door import attempt
from traveller.web.operator.again import sent_again
from traveller.web.operator.reporting import (
    already_recorded,
    ask,
    event_context_here,
    note_of,
    reported_url,
    said_no,
    unanswered,
)
from traveller.web.operator.shop import at_work, page, site_of
from traveller.web.operator.weighing import CountedHere, How, how_context, how_counted, questions, read_totes
from traveller.web.status_words import stop_in_a_word
from traveller.web.words import say


def next_site(account: Account) -> Site:
    """Where pieces on a shelf go next: the site of the next step, or where the batch is wanted."""
    batch: Batch = account.lot.batch
    if account.step:
        for operation in way_of(batch):
            if operation.number > account.step and operation.kind != OperationKind.PREPARE:
                return operation.site
    return batch.destination


@at_work
def send_goods(request: HttpRequest) -> HttpResponse:
    """Everything on the shelf with somewhere to go: first where to, then how many, proposed in full."""
    again = sent_again(request)
    if again:
        return redirect(reported_url("here_sent", again.code, reported=request.POST["news_id"]))
    site = site_of(request)
    rows = with_spreads(_rows(request, queries.lots_waiting_to_be_sent(site.pk)))
    ways = _ways(rows)
    chosen = chosen_of(request, ways)
    shown = [row for row in rows if row["to"] == chosen]
    context: dict[str, Any] = {"rows": shown, "ways": ways, "to": chosen, **how_context(request)}
    context["being_read"] = being_read_of(row["account"].lot.batch for row in shown)
    context["some_free"] = any(not row["blocked"] for row in shown)
    context |= papers_context(request, site, chosen)
    if request.method != "POST" or said_no(request):
        return page(request, "send.html", context)
    how, wrong = how_counted(request)
    lines, counted = read_rows(request, shown, how, wrong)
    if wrong:
        return page(request, "send.html", {**context, "wrong": wrong}, status=422)
    asked = unanswered(request, [] if already_recorded(request) else questions(how, counted))
    if asked:
        return ask(request, asked, context)
    answer = tell_sent(request, site, chosen or site, lines, SentFor.PROCESSING)
    return page(request, "send.html", context, refusal=answer) if isinstance(answer, Refusal) else answer


def chosen_of(request: HttpRequest, ways: list[dict[str, Any]]) -> Site | None:
    """The site that was chosen to send to; where there is one only, and none was chosen, that one."""
    to = request.POST.get("to") or request.GET.get("to") or ""
    fitting = ways if len(ways) == 1 and not to else [way for way in ways if str(way["site"].pk) == to]
    return fitting[0]["site"] if fitting else None


def tell_sent(
    request: HttpRequest, origin: Site, destination: Site, lines: list[SendLine], purpose: SentFor
) -> HttpResponse | Refusal:
    """The goods have left, with the papers that were typed: on to the page that says so."""
    event_context = event_context_here(request)
    if isinstance(event_context, Refusal):
        return event_context
    answer = attempt(
        send,
        event_context=event_context,
        origin_id=origin.pk,
        destination_id=destination.pk,
        lines=lines,
        purpose=purpose.value,
        **papers_of(request),
    )
    if isinstance(answer, Refusal):
        return answer
    return redirect(reported_url("here_sent", answer.code, reported=str(answer.sent_event.uid)))


def _rows(request: HttpRequest, shelf: list[Account]) -> list[dict[str, Any]]:
    on = timezone.localtime(timezone.now(), site_of(request).zone).date()
    goods = {account.pk: after_step(account.lot_id, account.step) for account in shelf}
    stops = usable_goods(set(goods.values()), "send", on)
    return [
        {
            "account": account,
            "to": next_site(account),
            **_stopped(stops[goods[account.pk]]),
            "line": SendLine(account.lot_id, 0, from_step=account.step),
            **field_of(request, account, account.balance),
        }
        for account in shelf
    ]


def _stopped(stop: Stop | None) -> dict[str, Any]:
    """Why the goods stay here, in words. What only lacks a proof keeps its field: the shop may be sending that too."""
    if stop is None:
        return {"stop": None, "blocked": False}
    mark, word = stop_in_a_word(stop.code)
    words = {"mark": mark, "word": word, "why": say(stop.code, stop.figures)}
    return {"stop": words, "blocked": stop.code != "not_proved"}


def field_of(request: HttpRequest, account: Account, proposed: object = "") -> dict[str, Any]:
    """The field in which the pieces of one shelf are typed, one number a tote."""
    value = request.POST.get(f"q:{account.pk}", proposed if request.method != "POST" else "")
    return {"field": f"q:{account.pk}", "id": f"id_q{account.pk}", "value": value}


def with_spreads(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The same rows, each with how much the weight of a piece of its part varies (one query)."""
    spreads = piece_spreads(row["account"].lot.part_id for row in rows)
    return [{**row, "cv_ppm": spreads[row["account"].lot.part_id].cv_ppm} for row in rows]


def _ways(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Destinations, with what would go there."""
    found: dict[int, dict[str, Any]] = {}
    for row in rows:
        way = found.setdefault(row["to"].pk, {"site": row["to"], "parts": []})
        way["parts"].append(row["account"].lot.part.title)
    return list(found.values())


def papers_context(request: HttpRequest, site: Site, chosen: Site | None) -> dict[str, Any]:
    """What stands on the note, as it was typed or as it usually is."""
    lane = Lane.objects.filter(origin=site, destination=chosen).first() if chosen else None
    return {
        "carrier": request.POST.get("carrier", lane.carrier if lane else ""),
        "owner": request.POST.get("owner", owner_of_goods()),
        "returnables": request.POST.get("returnables", ""),
    }


def papers_of(request: HttpRequest) -> dict[str, Any]:
    reported = request.POST
    return {
        "carrier": reported.get("carrier", "").strip()[:80],
        "owner": reported.get("owner", owner_of_goods()).strip()[:80],
        "returnables": reported.get("returnables", "").strip()[:120],
        "note": note_of(request)[:200],
        "shown": reported.get("shown") == "yes",
    }


def read_rows(
    request: HttpRequest, rows: list[dict[str, Any]], how: How, wrong: dict[str, str]
) -> tuple[list[SendLine], list[CountedHere]]:
    """The lines of what was typed; `wrong` gets the words for what could not be read."""
    lines: list[SendLine] = []
    counts: list[CountedHere] = []
    for row in rows:
        text = request.POST.get(row["field"], "").strip()
        if not text:
            continue
        counted = read_totes(how, text, row["account"].lot.part.unit, row["cv_ppm"])
        if isinstance(counted, str):
            wrong[row["field"]] = counted
        elif counted.quantity:
            counts.append(counted)
            line = replace(row["line"], quantity=counted.quantity, method=counted.method, sample=counted.sample)
            lines.append(replace(line, how=counted.how))
    row_errors(rows, wrong)
    return lines, counts


def row_errors(rows: Iterable[dict[str, Any]], wrong: dict[str, str]) -> None:
    for row in rows:
        row["error"] = wrong.get(row["field"], "")


def owner_of_goods() -> str:
    """Goods on these roads are the maker's: the note says so."""
    own = Site.objects.filter(kind="own").order_by("pk").first()
    return own.name if own else ""
