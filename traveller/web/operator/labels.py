"""Tote labels for what lies here: one a tote, with the quantity in each, place by place."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone

from traveller.batches.models import Batch
from traveller.batches.reads.labels import Totes, tote_labels
from traveller.batches.reads.papers import Heading
from traveller.batches.status import statuses_of
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Account, Condition
from traveller.paper.canvas import PaperSize
from traveller.web.operator.scan import LYING_HERE
from traveller.web.operator.sending import owner_of_goods
from traveller.web.operator.sent import as_pdf
from traveller.web.operator.shop import at_work, batches_here, page, site_of
from traveller.web.parts.figures import parted, read_count
from traveller.web.status_words import said_in_words

TOTES_MAX = 60


@at_work
def label(request: HttpRequest, code: str) -> HttpResponse:
    batch = get_object_or_404(batches_here(request).select_related("lot"), code=code)
    site = site_of(request)
    on = timezone.localtime(timezone.now(), site.zone).date()
    lying = list(
        Account.objects.filter(lot=batch.lot_id, site=site, condition__in=LYING_HERE, balance__gt=0)
        .select_related("lot", "site")
        .order_by("step", "condition")
    )
    statuses = statuses_of(lying, on)
    rows = [_row(request, account, said_in_words(statuses[account.pk])) for account in lying]
    context = {"batch": batch, "rows": rows, "leaves": _leaves(batch, site.pk)}
    if request.method != "POST":
        return page(request, "label.html", context)
    totes = [Totes(account, _quantities(row["value"])) for account, row in zip(lying, rows, strict=True)]
    wrong = any(_is_wrong(row["value"]) for row in rows)
    if wrong or not 0 < sum(len(each.quantities) for each in totes) <= TOTES_MAX:
        return page(request, "label.html", context, refusal=Refusal("tote_quantities", {"most": TOTES_MAX}))
    if not settings.PUBLIC_ADDRESS:
        return page(request, "label.html", context, refusal=Refusal("no_public_address"))
    heading = Heading(maker=owner_of_goods(), call_if_found=settings.CALL_WHOM, public_address=settings.PUBLIC_ADDRESS)
    blind = request.POST.get("blind") == "yes"
    size: PaperSize = "Letter" if site.paper == "Letter" else "A4"
    pdf = tote_labels(batch, totes, heading=heading, on=on, size=size, blind=blind)
    if isinstance(pdf, Refusal):
        return page(request, "label.html", context, refusal=pdf)
    return as_pdf(pdf, f"labels-{batch.code}.pdf")


def _row(request: HttpRequest, account: Account, words: dict[str, Any]) -> dict[str, Any]:
    """A place with its field: all that lies there is proposed."""
    field = f"q:{account.pk}"
    value = request.POST.get(field, "") if request.method == "POST" else str(account.balance)
    return {"field": field, "id": f"id_q{account.pk}", "value": value, "there": account.balance, **words}


def _typed(text: str) -> list[int | str]:
    return [read_count(word) for word in parted(text)]


def _is_wrong(text: str) -> bool:
    return any(not isinstance(quantity, int) or quantity <= 0 for quantity in _typed(text))


def _quantities(text: str) -> tuple[int, ...]:
    return tuple(quantity for quantity in _typed(text) if isinstance(quantity, int) and quantity > 0)


def _leaves(batch: Batch, site_id: int) -> bool:
    """Done here, so the next to count it is somebody else."""
    shelf = Account.objects.filter(lot=batch.lot_id, site=site_id, condition=Condition.STOCK, balance__gt=0)
    return batch.lot_id is not None and shelf.filter(Q(step__gt=0) | ~Q(lot__batch__destination=site_id)).exists()
