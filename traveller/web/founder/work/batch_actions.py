"""What the founder does with a batch: hold it or a part of it, print its traveller and labels."""

from __future__ import annotations

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_POST, require_safe

from traveller.batches.actions.hold import hold_lot, hold_part
from traveller.batches.models import Batch
from traveller.batches.reads.labels import tote_labels
from traveller.batches.reads.papers import Heading, print_traveller
from traveller.batches.reads.queries import whereabouts
from traveller.journal.refusal import Refusal
from traveller.ledger.post import Place
from traveller.paper.canvas import PaperSize
from traveller.web.door import attempt
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, link_to
from traveller.web.founder.desk.listing import answer_again, back_to
from traveller.web.founder.orders.order_reads import orders_of
from traveller.web.founder.work.batches import HoldForm, PartForm, batch_or_404, context_of
from traveller.web.founder.work.label_form import LabelForm


@founder_page
@require_POST
def hold(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """Stop the whole batch and all that was made from it."""
    batch = batch_or_404(code)
    form = HoldForm(request.POST)
    if batch.lot is None:
        return _again(request, desk, batch, Refusal("nothing_there"), hold_form=form)
    if not form.is_valid():
        return _again(request, desk, batch, hold_form=form)
    event_context = event_context_of(request, desk)
    if isinstance(event_context, Refusal):
        return _again(request, desk, batch, event_context, hold_form=form)
    answer = attempt(hold_lot, event_context=event_context, lot_id=batch.lot.pk, reason=form.cleaned_data["reason"])
    if isinstance(answer, Refusal):
        return _again(request, desk, batch, answer, hold_form=form)
    return back_to("batch", batch.code, reported=answer.event.uid)


@founder_page
@require_POST
def part(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """Set some pieces apart as a batch of their own, held."""
    batch = batch_or_404(code)
    form = PartForm(whereabouts([batch])[0], request.POST)
    if not form.is_valid():
        return _again(request, desk, batch, part_form=form)
    event_context = event_context_of(request, desk)
    if isinstance(event_context, Refusal) or batch.lot is None:
        refusal = event_context if isinstance(event_context, Refusal) else Refusal("nothing_there")
        return _again(request, desk, batch, refusal, part_form=form)
    site, condition, step = form.cleaned_data["place"].split(":")
    answer = attempt(
        hold_part,
        event_context=event_context,
        batch_id=batch.pk,
        place=Place(batch.lot.pk, int(site), condition, int(step)),
        quantity=form.cleaned_data["quantity"],
        reason=form.cleaned_data["part_reason"],
    )
    if isinstance(answer, Refusal):
        return _again(request, desk, batch, answer, part_form=form)
    return back_to("batch", answer.children[0].code if answer.children else batch.code, reported=answer.event.uid)


@founder_page
@require_POST
def print_paper(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """Print the next traveller: it replaces the ones before."""
    batch = batch_or_404(code)
    event_context = event_context_of(request, desk)
    if isinstance(event_context, Refusal):
        return _again(request, desk, batch, event_context)
    answer = attempt(
        print_traveller,
        event_context=event_context,
        batch_id=batch.pk,
        heading=heading_of(batch, desk),
        size=_paper(desk),
    )
    if isinstance(answer, Refusal):
        return _again(request, desk, batch, answer)
    for warning in answer.warnings:
        messages.warning(request, warning)
    return pdf(answer.pdf, f"traveller-{batch.code}-{answer.serial}.pdf")


@founder_page
@require_safe
def labels(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """A label a tote; a copy of facts, so that printing one tells nothing."""
    batch = batch_or_404(code)
    form = LabelForm(batch, desk, request.GET)
    totes = form.totes() if form.is_valid() else []
    if form.errors:
        return _again(request, desk, batch, label_form=form)
    heading = heading_of(batch, desk)
    if not heading.public_address:
        return _again(request, desk, batch, Refusal("no_public_address"), label_form=form)
    body = tote_labels(batch, totes, heading=heading, on=desk.today, size=_paper(desk))
    if isinstance(body, Refusal):
        return _again(request, desk, batch, body, label_form=form)
    return pdf(body, f"labels-{batch.code}.pdf")


def _paper(desk: Desk) -> PaperSize:
    """The founder's own paper."""
    return "Letter" if desk.bench is not None and desk.bench.paper == "Letter" else "A4"


def heading_of(batch: Batch, desk: Desk) -> Heading:
    """What stands at the head of a batch's papers."""
    bench = desk.bench
    call = settings.CALL_WHOM or (" ".join(filter(None, (bench.contact, bench.phone))) if bench else "")
    numbers = dict.fromkeys(share.line.order.number for share in orders_of([batch])[batch.pk])
    return Heading(
        maker=bench.name if bench else "",
        call_if_found=call,
        public_address=settings.PUBLIC_ADDRESS or "",
        orders=tuple(numbers),
    )


def pdf(body: bytes, name: str) -> HttpResponse:
    """A paper, opened in the browser."""
    return HttpResponse(
        body, content_type="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}"'}
    )


def _again(
    request: HttpRequest, desk: Desk, batch: Batch, refusal: Refusal | None = None, **forms_sent: forms.Form
) -> HttpResponse:
    context = {**context_of(batch, desk, move_form=None, **forms_sent), "here": link_to("batch", batch.code)}
    return answer_again(request, desk, "work/batch.html", context, refusal)
