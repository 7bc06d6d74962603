"""Scanned or typed: is this it? A code of ours opens its task; anything else gets the nearest, with pictures."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from sites.access import narrow
from traveller.batches.models import Batch, Step, StepState
from traveller.consignments.models import Consignment
from traveller.ledger.models import Account, Condition
from traveller.rules.codes import Damaged, nearest, read
from traveller.web.operator.shop import actor_of, at_work, batches_here, page, site_of
from traveller.web.photos import code_in_photo


@at_work
def typed(request: HttpRequest) -> HttpResponse:
    """The scan field: to the task, or to the page that helps."""
    return _open(request, request.GET.get("code", ""), None)


@at_work
def scanned(request: HttpRequest, code: str, step: int | None = None) -> HttpResponse:
    return _open(request, code, step)


@require_POST
@at_work
def photo(request: HttpRequest) -> HttpResponse:
    """A photo of a code, for phones whose browser cannot read one itself."""
    found = code_in_photo(request.FILES.get("photo"))
    if isinstance(found, str):
        return _open(request, found, None)
    return page(request, "unknown.html", {"typed": "", "near": []}, refusal=found, status=422)


def _open(request: HttpRequest, text: str, step: int | None) -> HttpResponse:
    scan = read(text)
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
    known = {batch.code: batch for batch in batches_here(request).filter(closed_at=None)[:500]}
    near = [known[code] for code in nearest(cleaned, known)]
    return page(request, "unknown.html", {"typed": text[:60], "near": near}, status=404)


def _is_this_it(request: HttpRequest, batch: Batch, number: int | None) -> HttpResponse:
    steps = list(
        Step.objects.filter(batch=batch, site=site_of(request)).select_related("operation").order_by("number")
    )
    chosen = next((step for step in steps if step.number == number), None)
    current = chosen or _next_of(batch, steps)
    there = Account.objects.filter(lot=batch.lot_id, site=site_of(request), balance__gt=0) if batch.lot_id else []
    here = sum(account.balance for account in there if account.condition == Condition.IN_PROCESS)
    context = {"batch": batch, "step": current, "steps": steps, "here": here, "asked": number}
    return page(request, "is_this_it.html", context)


def _next_of(batch: Batch, steps: list[Step]) -> Step | None:
    """The step that pieces wait for here; else the first that is not done."""
    if batch.lot_id:
        waiting = Account.objects.filter(
            lot=batch.lot_id, condition=Condition.IN_PROCESS, balance__gt=0, site__in=[step.site_id for step in steps]
        ).values_list("step", flat=True)
        for step in steps:
            if step.number in set(waiting):
                return step
    return next((step for step in steps if step.state != StepState.DONE), steps[-1] if steps else None)
