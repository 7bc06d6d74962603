"""Goods leave: what is done here and free goes to one site at a time; the note is printed by the sender."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from sites.access import narrow
from sites.models import Lane, Site
from traveller.batches import queries
from traveller.batches.actions.send import send
from traveller.batches.models import Batch
from traveller.consignments.actions.dispatch import SendLine
from traveller.consignments.models import Consignment
from traveller.consignments.papers import print_note
from traveller.journal.refusal import Refusal
from traveller.ledger.holds import open_on
from traveller.ledger.models import Account
from traveller.products.frozen import operations_of
from traveller.products.models import OperationKind
from traveller.web.door import attempt
from traveller.web.operator.figures import read_count
from traveller.web.operator.shop import actor_of, at_work, page, site_of
from traveller.web.operator.telling import just_told, stamp_here, told_url

METHODS = ("hand", "weight", "shots")


def next_site(account: Account) -> Site:
    """Where pieces on a shelf go next: the site of the next step, or where the batch is wanted."""
    batch: Batch = account.lot.batch
    if account.step:
        for operation in operations_of(batch.routing_id):
            if operation.number > account.step and operation.kind != OperationKind.PREPARE:
                return operation.site
    return batch.destination


@at_work
def send_goods(request: HttpRequest) -> HttpResponse:
    """Everything on the shelf with somewhere to go: first where to, then how many, proposed in full."""
    site = site_of(request)
    rows = _rows(request, queries.lots_waiting_to_be_sent(site.pk))
    to = request.POST.get("to") or request.GET.get("to") or ""
    ways = {row["to"].pk: row["to"] for row in rows}
    chosen = next((way for way in ways.values() if str(way.pk) == to), None)
    if chosen is None and len(ways) == 1 and not to:
        chosen = next(iter(ways.values()))
    shown = [row for row in rows if chosen is not None and row["to"].pk == chosen.pk]
    context: dict[str, Any] = {"rows": shown, "ways": _ways(rows), "to": chosen, "methods": METHODS}
    context["some_free"] = any(not row["held"] for row in shown)
    context["carrier"] = request.POST.get("carrier", _usual_carrier(site, chosen))
    if request.method != "POST":
        return page(request, "send.html", context)
    lines, wrong = _lines(request, shown)
    if wrong:
        return page(request, "send.html", {**context, "wrong": wrong}, status=422)
    stamp = stamp_here(request)
    if isinstance(stamp, Refusal):
        return page(request, "send.html", context, refusal=stamp)
    answer = attempt(
        send,
        stamp=stamp,
        origin_id=site.pk,
        destination_id=chosen.pk if chosen else site.pk,
        lines=lines,
        carrier=request.POST.get("carrier", "").strip()[:80],
        owner=owner_of_goods(),
    )
    if isinstance(answer, Refusal):
        return page(request, "send.html", context, refusal=answer)
    return redirect(told_url("here_sent", answer.code, told=str(answer.sent_event.uid)))


def _rows(request: HttpRequest, shelf: list[Account]) -> list[dict[str, Any]]:
    held = {hold.lot_id for hold in open_on([account.lot_id for account in shelf])}
    return [
        {
            "account": account,
            "to": next_site(account),
            "held": account.lot_id in held,
            "field": f"q:{account.pk}",
            "id": f"id_q{account.pk}",
            "value": request.POST.get(f"q:{account.pk}", account.balance if request.method != "POST" else ""),
        }
        for account in shelf
    ]


def _ways(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Destinations, with what would go there."""
    found: dict[int, dict[str, Any]] = {}
    for row in rows:
        way = found.setdefault(row["to"].pk, {"site": row["to"], "parts": []})
        way["parts"].append(row["account"].lot.part.title)
    return list(found.values())


def _usual_carrier(site: Site, chosen: Site | None) -> str:
    lane = Lane.objects.filter(origin=site, destination=chosen).first() if chosen else None
    return lane.carrier if lane else ""


def _lines(request: HttpRequest, rows: list[dict[str, Any]]) -> tuple[list[SendLine], dict[str, str]]:
    lines: list[SendLine] = []
    method, sample, wrong = how_counted(request)
    if wrong:
        return [], wrong
    for row in rows:
        account, text = row["account"], request.POST.get(row["field"], "").strip()
        if not text:
            continue
        quantity = read_count(text)
        if isinstance(quantity, str):
            wrong[row["field"]] = quantity
        elif quantity:
            lines.append(SendLine(account.lot_id, quantity, from_step=account.step, method=method, sample=sample))
    row_errors(rows, wrong)
    return lines, wrong


def row_errors(rows: Iterable[dict[str, Any]], wrong: dict[str, str]) -> None:
    for row in rows:
        row["error"] = wrong.get(row["field"], "")


def how_counted(request: HttpRequest) -> tuple[str, int, dict[str, str]]:
    """By hand, weight or shots; with a scale, how many pieces set the piece weight (0: not noted)."""
    method = request.POST.get("method", "hand")
    sample = read_count(request.POST.get("sample") or "0")
    if method not in METHODS or isinstance(sample, str):
        words = _("Choose how it was counted; with a scale, type how many pieces set the weight of one.")
        return "hand", 0, {"method": words}
    return method, sample if method == "weight" else 0, {}


def owner_of_goods() -> str:
    """Goods on these roads are the maker's: the note says so."""
    own = Site.objects.filter(kind="own").order_by("pk").first()
    return own.name if own else ""


def sent_from_here(request: HttpRequest, code: str) -> Consignment:
    """Only the sender sees what was sent; the receiver counts first."""
    rows = Consignment.objects.select_related("origin", "destination", "sent_event")
    return get_object_or_404(narrow(rows, actor_of(request), "origin"), code=code)


@at_work
def sent(request: HttpRequest, code: str) -> HttpResponse:
    return _sent_page(request, sent_from_here(request, code))


def _sent_page(request: HttpRequest, consignment: Consignment, refusal: Refusal | None = None) -> HttpResponse:
    lines = consignment.lines.select_related("lot__part").defer("lot__part__picture")
    context = {"consignment": consignment, "lines": lines, "confirmed": just_told(request)}
    return page(request, "sent.html", context, refusal=refusal)


@require_POST
@at_work
def note(request: HttpRequest, code: str) -> HttpResponse:
    """The dispatch note as PDF; its first copy shows the quantities and stays with the sender."""
    consignment = sent_from_here(request, code)
    stamp = stamp_here(request)
    if isinstance(stamp, Refusal):
        return _sent_page(request, consignment, stamp)
    pdf = attempt(
        print_note,
        stamp=stamp,
        consignment_id=consignment.pk,
        public_address=settings.PUBLIC_ADDRESS or "",
        size=site_of(request).paper,
    )
    if isinstance(pdf, Refusal):
        return _sent_page(request, consignment, pdf)
    return as_pdf(pdf, f"note-{consignment.code}.pdf")


def as_pdf(content: bytes, name: str) -> HttpResponse:
    answer = HttpResponse(content, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}"'
    return answer
