"""Goods between sites as a shop sees them: send what is done, count what arrives, print the note and labels."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from sites.access import narrow
from sites.models import Site
from traveller.batches import queries
from traveller.batches.actions.send import send
from traveller.batches.fetch import next_step
from traveller.batches.models import Batch, Step
from traveller.batches.papers import Heading, tote_labels
from traveller.consignments.actions.dispatch import SendLine
from traveller.consignments.actions.receive import arrived_unannounced, receive
from traveller.consignments.models import Consignment, ConsignmentLine
from traveller.consignments.papers import print_note
from traveller.journal.refusal import Refusal
from traveller.ledger.holds import open_on
from traveller.ledger.models import Account, Condition
from traveller.rules.codes import Damaged, read
from traveller.web.door import attempt, stamp_from
from traveller.web.operator.figures import read_count
from traveller.web.operator.shop import actor_of, at_work, batches_here, page, site_of
from traveller.web.words import say

METHODS = ("hand", "weight", "shots")


def next_site(account: Account) -> Site:
    """Where pieces on a shelf go next: the site of the next step, or where the batch is wanted."""
    batch: Batch = account.lot.batch
    if account.step:
        step = Step.objects.filter(batch=batch, number=account.step).select_related("batch").first()
        following = next_step(step) if step else None
        if following:
            return following.site
    return batch.destination


@at_work
def send_goods(request: HttpRequest) -> HttpResponse:
    """Everything on the shelf with somewhere to go, by destination; a quantity each, proposed in full."""
    site = site_of(request)
    shelf = queries.lots_waiting_to_be_sent(site.pk)
    held = {hold.lot_id for hold in open_on([account.lot_id for account in shelf])}
    rows = [
        {"account": account, "to": next_site(account), "held": account.lot_id in held, "field": f"q:{account.pk}"}
        for account in shelf
    ]
    context: dict[str, Any] = {"rows": rows, "values": request.POST, "methods": METHODS}
    if request.method != "POST":
        return page(request, "send.html", context)
    lines, destinations, wrong = _lines(request, rows)
    if len(destinations) > 1:
        wrong["to"] = _("These go to different sites. Send one site's goods at a time.")
    if wrong:
        return page(request, "send.html", {**context, "wrong": wrong}, status=422)
    stamp = stamp_from(request, actor_of(request), site.zone)
    if isinstance(stamp, Refusal):
        return page(request, "send.html", context, refusal=stamp)
    answer = attempt(
        send,
        stamp=stamp,
        origin_id=site.pk,
        destination_id=next(iter(destinations), site.pk),
        lines=lines,
        carrier=request.POST.get("carrier", "").strip()[:80],
        owner=_owner(),
    )
    if isinstance(answer, Refusal):
        return page(request, "send.html", context, refusal=answer)
    return redirect("here_sent", answer.code)


def _lines(request: HttpRequest, rows: list[dict[str, Any]]) -> tuple[list[SendLine], set[int], dict[str, str]]:
    lines: list[SendLine] = []
    destinations: set[int] = set()
    wrong: dict[str, str] = {}
    method = request.POST.get("method", "hand")
    sample = read_count(request.POST.get("sample") or "0")
    if method not in METHODS or isinstance(sample, str):
        wrong["method"] = _("Choose how it was counted; with a scale, type how many pieces the sample had.")
        return [], set(), wrong
    for row in rows:
        account, text = row["account"], request.POST.get(row["field"], "").strip()
        if not text:
            continue
        quantity = read_count(text)
        if isinstance(quantity, str):
            wrong[row["field"]] = quantity
        elif quantity:
            lines.append(
                SendLine(account.lot_id, quantity, from_step=account.step, method=method, sample=sample)
            )
            destinations.add(row["to"].pk)
    return lines, destinations, wrong


def _owner() -> str:
    """Goods on these roads are the maker's: the note says so."""
    own = Site.objects.filter(kind="own").order_by("pk").first()
    return own.name if own else ""


@at_work
def sent(request: HttpRequest, code: str) -> HttpResponse:
    consignment = _consignment(request, code)
    context = {"consignment": consignment, "lines": consignment.lines.select_related("lot__part")}
    return page(request, "sent.html", {**context, "confirmed": str(consignment.sent_event.uid)})


@require_POST
@at_work
def note(request: HttpRequest, code: str) -> HttpResponse:
    """The dispatch note as PDF; only the sender prints it, since its first copy shows the quantities."""
    consignment = _consignment(request, code)
    if consignment.origin_id != site_of(request).pk:
        raise Http404
    stamp = stamp_from(request, actor_of(request), site_of(request).zone)
    if isinstance(stamp, Refusal):
        return redirect("here_sent", code)
    pdf = attempt(
        print_note,
        stamp=stamp,
        consignment_id=consignment.pk,
        public_address=settings.PUBLIC_ADDRESS or "",
        size=site_of(request).paper,
    )
    if isinstance(pdf, Refusal):
        context = {"consignment": consignment, "lines": consignment.lines.select_related("lot__part")}
        return page(request, "sent.html", context, refusal=pdf)
    return _pdf(pdf, f"note-{consignment.code}.pdf")


def _consignment(request: HttpRequest, code: str) -> Consignment:
    rows = Consignment.objects.select_related("origin", "destination", "sent_event")
    return get_object_or_404(narrow(rows, actor_of(request), "origin", "destination"), code=code)


@at_work
def arrival(request: HttpRequest, code: str) -> HttpResponse:
    """Count what arrived before seeing what was sent: the page does not show the sender's figure."""
    consignment = _consignment(request, code)
    if consignment.destination_id != site_of(request).pk:
        raise Http404
    lines = list(consignment.lines.select_related("lot__part").order_by("id"))
    context: dict[str, Any] = {"consignment": consignment, "lines": lines, "methods": METHODS, "values": request.POST}
    if request.method != "POST" or all(line.closed for line in lines):
        return page(request, "arrival.html", context)
    counts, wrong = _arrival_counts(request, lines)
    if wrong:
        return page(request, "arrival.html", {**context, "wrong": wrong}, status=422)
    stamp = stamp_from(request, actor_of(request), site_of(request).zone)
    if isinstance(stamp, Refusal):
        return page(request, "arrival.html", context, refusal=stamp)
    for line, quantity in counts:
        answer = attempt(
            receive,
            stamp=stamp.derived(f"line:{line.pk}"),
            line_id=line.pk,
            quantity=quantity,
            method=request.POST.get("method", "hand"),
            sample=int(request.POST.get("sample") or 0),
            seen=request.POST.get("seen") == "yes",
            more_to_come=request.POST.get("more") == "yes",
        )
        if isinstance(answer, Refusal):
            return page(request, "arrival.html", context, refusal=answer)
    return redirect("here_arrival", code)


def _arrival_counts(
    request: HttpRequest, lines: list[ConsignmentLine]
) -> tuple[list[tuple[ConsignmentLine, int]], dict[str, str]]:
    counts: list[tuple[ConsignmentLine, int]] = []
    wrong: dict[str, str] = {}
    sample = read_count(request.POST.get("sample") or "0")
    if request.POST.get("method", "hand") not in METHODS or isinstance(sample, str):
        wrong["method"] = _("Choose how it was counted; with a scale, type how many pieces the sample had.")
    for line in lines:
        if line.closed:
            continue
        text = request.POST.get(f"line:{line.pk}", "").strip()
        quantity = read_count(text)
        if isinstance(quantity, str):
            wrong[f"line:{line.pk}"] = quantity
        else:
            counts.append((line, quantity))
    return counts, wrong


@at_work
def unannounced(request: HttpRequest) -> HttpResponse:
    """Goods are here that nobody has told were sent: taken, parked, booked when the sender tells."""
    context: dict[str, Any] = {"values": request.POST}
    if request.method != "POST":
        return page(request, "unannounced.html", context)
    scan = read(request.POST.get("code", ""))
    batch = None if isinstance(scan, Damaged) else batches_here(request).filter(code=scan.code).first()
    quantity = read_count(request.POST.get("quantity", ""))
    wrong = {}
    if batch is None or batch.lot_id is None:
        wrong["code"] = _("No batch that comes here has this code. Scan the label again, or call the maker.")
    if isinstance(quantity, str):
        wrong["quantity"] = quantity
    if wrong or batch is None or batch.lot_id is None or isinstance(quantity, str):
        return page(request, "unannounced.html", {**context, "wrong": wrong}, status=422)
    stamp = stamp_from(request, actor_of(request), site_of(request).zone)
    if isinstance(stamp, Refusal):
        return page(request, "unannounced.html", context, refusal=stamp)
    answer = attempt(
        arrived_unannounced, stamp=stamp, site_id=site_of(request).pk, lot_id=batch.lot_id, quantity=quantity
    )
    if isinstance(answer, Refusal):
        return page(request, "unannounced.html", context, refusal=answer)
    words = say(answer.reason, answer.figures)
    return page(request, "unannounced_told.html", {"words": words, "batch": batch})


@at_work
def label(request: HttpRequest, code: str) -> HttpResponse:
    """Tote labels for what lies here: one a tote, with the quantity in each."""
    batch = get_object_or_404(batches_here(request), code=code)
    here = sum(
        account.balance
        for account in Account.objects.filter(
            lot=batch.lot_id,
            site=site_of(request),
            condition__in=[Condition.IN_PROCESS, Condition.REWORK, Condition.STOCK],
        )
    )
    context = {"batch": batch, "here": here, "values": request.POST}
    if request.method != "POST":
        return page(request, "label.html", context)
    quantities = [read_count(text) for text in request.POST.get("quantities", "").replace("+", " ").split()]
    whole = [quantity for quantity in quantities if isinstance(quantity, int) and quantity > 0]
    if not whole or len(whole) != len(quantities) or len(whole) > 60:
        return page(
            request, "label.html", context, refusal=Refusal("tote_quantities", {"most": 60}), status=422
        )
    if not settings.PUBLIC_ADDRESS:
        return page(request, "label.html", context, refusal=Refusal("no_public_address"))
    shelf = [a for a in queries.lots_waiting_to_be_sent(site_of(request).pk) if a.lot_id == batch.lot_id]
    to = next_site(shelf[0]) if shelf else batch.destination
    heading = Heading(maker=_owner(), call_if_found=settings.CALL_WHOM, public_address=settings.PUBLIC_ADDRESS)
    on = timezone.localtime(timezone.now(), site_of(request).zone).date()
    pdf = tote_labels(
        batch, heading=heading, quantities=whole, on=on, next_operation=_("send on"), next_site=to.name
    )
    return _pdf(pdf, f"labels-{batch.code}.pdf")


def _pdf(content: bytes, name: str) -> HttpResponse:
    answer = HttpResponse(content, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}"'
    return answer
