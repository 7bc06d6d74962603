"""Tote labels for what lies here: one a tote, with the quantity in each."""

from __future__ import annotations

from django.conf import settings
from django.db.models import Q, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _

from traveller.batches.models import Batch, Step
from traveller.batches.reads.papers import Heading, tote_labels
from traveller.batches.steps.fetch import way_of
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Account, Condition
from traveller.products.models import OperationKind
from traveller.web.operator.scan import LYING_HERE
from traveller.web.operator.sending import owner_of_goods
from traveller.web.operator.sent import as_pdf
from traveller.web.operator.shop import at_work, batches_here, page, site_of
from traveller.web.parts.figures import read_count

TOTES_MAX = 60


@at_work
def label(request: HttpRequest, code: str) -> HttpResponse:
    batch = get_object_or_404(batches_here(request).select_related("lot"), code=code)
    site = site_of(request)
    lying = Account.objects.filter(lot=batch.lot_id, site=site, condition__in=LYING_HERE)
    here = lying.aggregate(all=Sum("balance"))["all"] or 0
    context = {"batch": batch, "here": here, "proposed": str(here) if here else "", "leaves": _leaves(batch, site.pk)}
    if request.method != "POST":
        return page(request, "label.html", context)
    typed = request.POST.get("quantities", "").replace("+", " ").replace(",", " ").split()
    counts = [read_count(text) for text in typed]
    whole = [quantity for quantity in counts if isinstance(quantity, int) and quantity > 0]
    if not whole or len(whole) != len(counts) or len(whole) > TOTES_MAX:
        return page(request, "label.html", context, refusal=Refusal("tote_quantities", {"most": TOTES_MAX}))
    if not settings.PUBLIC_ADDRESS:
        return page(request, "label.html", context, refusal=Refusal("no_public_address"))
    verb, where = _next(batch, site.pk)
    heading = Heading(maker=owner_of_goods(), call_if_found=settings.CALL_WHOM, public_address=settings.PUBLIC_ADDRESS)
    on = timezone.localtime(timezone.now(), site.zone).date()
    blind = request.POST.get("blind") == "yes"
    pdf = tote_labels(
        batch, heading=heading, quantities=whole, on=on, next_operation=verb, next_site=where, blind=blind
    )
    return as_pdf(pdf, f"labels-{batch.code}.pdf")


def _leaves(batch: Batch, site_id: int) -> bool:
    """Done here, so the next to count it is somebody else."""
    shelf = Account.objects.filter(lot=batch.lot_id, site=site_id, condition=Condition.STOCK, balance__gt=0)
    return batch.lot_id is not None and shelf.filter(Q(step__gt=0) | ~Q(lot__batch__destination=site_id)).exists()


def _next(batch: Batch, site_id: int) -> tuple[str, str]:
    """What comes next for what lies here: the step that waits for it, or where it is sent."""
    waiting = Account.objects.filter(
        lot=batch.lot_id, site=site_id, condition__in=(Condition.IN_PROCESS, Condition.REWORK), balance__gt=0
    ).order_by("step")
    account = waiting.first()
    if account:
        step = Step.objects.filter(batch=batch, number=account.step).select_related("operation", "site").first()
        if step:
            return step.operation.verb, step.site.name
    shelf = Account.objects.filter(lot=batch.lot_id, site=site_id, condition=Condition.STOCK, balance__gt=0).first()
    after = shelf.step if shelf else 0
    if after or shelf is None:
        for operation in way_of(batch):
            if operation.number > after and operation.kind != OperationKind.PREPARE:
                return operation.verb, operation.site.name
    return _("stock"), batch.destination.name
