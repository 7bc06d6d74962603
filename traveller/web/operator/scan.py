"""Scanned or typed: is this it? A code of ours opens its task; anything else gets the nearest, with pictures."""

from __future__ import annotations

from typing import Any

from django.db.models import Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from sites.access import narrow
from sites.models import Site
from traveller.batches.models import Batch, Step, StepState
from traveller.batches.reads.own_numbers import by_number
from traveller.batches.reads.waiting import Waiting, waiting_at
from traveller.batches.status import status_before_birth, statuses_of
from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.journal.refusal import Refusal
from traveller.ledger.holds import open_on
from traveller.ledger.models import Account, Condition, Lot
from traveller.products.models import OperationKind
from traveller.rules.codes import Damaged, nearest, read
from traveller.web.operator.deeds import inside_words, way_in
from traveller.web.operator.papers import last_print
from traveller.web.operator.shop import actor_of, at_work, batches_here, page, site_of
from traveller.web.photos import asker_of, code_in_photo
from traveller.web.status_words import said_in_words
from traveller.web.who import who_of

LYING_HERE = (Condition.IN_PROCESS, Condition.REWORK, Condition.STOCK)


@at_work
def typed(request: HttpRequest) -> HttpResponse:
    """The scan field: to the task, or to the page that helps."""
    text = request.GET.get("code", "").strip()
    return _open(request, text[:300], None) if text else redirect("here")


@at_work
def scanned(request: HttpRequest, code: str, step: int | None = None) -> HttpResponse:
    return _open(request, code, step)


@require_POST
@at_work
def photo(request: HttpRequest) -> HttpResponse:
    """A photo of a code, for phones whose browser cannot read one itself."""
    found = code_in_photo(request.FILES.get("photo"), asker_of(who_of(request)))
    if isinstance(found, str):
        scan = read(found)
        if isinstance(scan, Damaged):
            return _unknown(request, found, scan.text)
        # The photo is read; what it opens has an address of its own.
        if scan.step is None:
            return redirect("here_code", scan.code)
        return redirect("here_code_step", scan.code, scan.step)
    return _not_read(request, found)


def _not_read(request: HttpRequest, why: Refusal) -> HttpResponse:
    return page(request, "unknown.html", {"typed": "", "near": [], "bound": False}, refusal=why, status=422)


def _open(request: HttpRequest, text: str, step: int | None) -> HttpResponse:
    scan = read(text)
    called = by_number(text, site_of(request).pk) if isinstance(scan, Damaged) else None
    if called is not None and (own := batches_here(request).filter(pk=called.pk).first()):
        return _is_this_it(request, own, step)
    if isinstance(scan, Damaged):
        return _unknown(request, text, scan.text)
    wanted = step if step is not None else scan.step
    batch = batches_here(request).filter(code=scan.code).first()
    if batch:
        return _is_this_it(request, batch, wanted)
    site = site_of(request)
    consignments = Consignment.objects.filter(code=scan.code)
    consignment = narrow(consignments, actor_of(request), "origin", "destination").first()
    if consignment:
        return redirect("here_arrival" if consignment.destination_id == site.pk else "here_sent", scan.code)
    return _unknown(request, text, scan.code)


def _unknown(request: HttpRequest, text: str, cleaned: str) -> HttpResponse:
    """Nothing of this site's has that code: the nearest ones that do, and the way back."""
    batches = batches_here(request)
    codes = nearest(cleaned, batches.filter(closed_at=None).order_by().values_list("code", flat=True))
    found = {batch.code: batch for batch in batches.filter(code__in=codes)}
    own_lots = narrow(Lot.objects.select_related("part"), actor_of(request), "accounts__site")
    context = {
        "typed": text[:60],
        "near": [found[code] for code in codes if code in found],
        # Material that lies here has a code too; it is scanned where a count asks for the lot used.
        "lot": own_lots.filter(code=cleaned).first(),
    }
    return page(request, "unknown.html", context, status=404)


def _is_this_it(request: HttpRequest, batch: Batch, number: int | None) -> HttpResponse:
    site = site_of(request)
    rows = Step.objects.filter(batch=batch, site=site).select_related("operation", "batch").order_by("number")
    steps = list(rows)
    chosen = next((step for step in steps if step.number == number), None)
    here = 0
    if batch.lot_id:
        lying = Account.objects.filter(lot=batch.lot_id, site=site, condition__in=LYING_HERE)
        here = lying.aggregate(all=Sum("balance"))["all"] or 0
    coming = ConsignmentLine.objects.filter(consignment__destination=site, lot=batch.lot_id, closed=False)
    here_now = chosen or _next_of(batch, steps)
    holds = open_on([batch.lot_id]) if batch.lot_id else []
    waits = _waits(here_now)
    context = {
        "batch": batch,
        "waits": waits,
        "inside_words": inside_words(waits) if waits else "",
        "step": here_now,
        "way_in": _way_in(here_now, held=bool(holds)),
        "steps": steps,
        "here": here,
        "coming": coming.select_related("consignment__origin").first() if batch.lot_id else None,
        "elsewhere": number if number is not None and chosen is None else None,
        "holds": holds,
        "statuses": _statuses(batch, site, here_now.number if here_now else 0, waits),
        "last": last_print(batch),
    }
    return page(request, "is_this_it.html", context)


def _waits(step: Step | None) -> Waiting | None:
    """What waits at the step in question; None where pieces are born, or none of them has come there."""
    if step is None or step.operation.kind != OperationKind.WORK:
        return None
    waits = waiting_at(step)
    return waits if waits.lying or waits.rework else None


def _statuses(batch: Batch, site: Site, number: int, waits: Waiting | None) -> list[dict[str, Any]]:
    """What its pieces here are, place by place; of a batch of which nothing was made yet, what comes first.

    Before the step in question it is the number that waits there.
    """
    on = timezone.localtime(timezone.now(), site.zone).date()
    if batch.lot_id is None:
        return [{"n": None, **said_in_words(status_before_birth(batch))}]
    rows = Account.objects.filter(lot=batch.lot_id, site=site, condition__in=LYING_HERE, balance__gt=0)
    lying = list(rows.select_related("lot", "site").order_by("step", "condition"))
    statuses = statuses_of(lying, on)
    counted = {account.pk: account.balance for account in lying}
    if waits:
        counted |= {row.pk: waits.here for row in lying if (row.step, row.condition) == (number, Condition.IN_PROCESS)}
    return [{"n": counted[account.pk], **said_in_words(statuses[account.pk])} for account in lying]


def _way_in(step: Step | None, *, held: bool) -> str:
    if step is None:
        return ""
    return reverse("here_step", args=[step.pk]) if held else way_in(step, timezone.now())


def _next_of(batch: Batch, steps: list[Step]) -> Step | None:
    """The step that pieces wait for here; else the first that is not done."""
    if batch.lot_id:
        waiting = set(
            Account.objects.filter(
                lot=batch.lot_id,
                condition__in=(Condition.IN_PROCESS, Condition.REWORK),
                balance__gt=0,
                site__in=[step.site_id for step in steps],
            ).values_list("step", flat=True)
        )
        for step in steps:
            if step.number in waiting:
                return step
    return next((step for step in steps if step.state != StepState.DONE), steps[-1] if steps else None)
