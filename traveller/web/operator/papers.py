"""A traveller is lost: found by picture and variant, printed again; the print before still opens, and says so."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from traveller.batches.models import Batch, TravellerPrint
from traveller.batches.reads.papers import Heading, print_traveller
from traveller.journal.refusal import Refusal
from traveller.web.door import attempt
from traveller.web.operator.reporting import event_context_here
from traveller.web.operator.sending import owner_of_goods
from traveller.web.operator.sent import as_pdf
from traveller.web.operator.shop import at_work, batches_here, page, site_of


@at_work
def lost(request: HttpRequest) -> HttpResponse:
    """All that is under way here, with picture and variant, for a tote without its paper."""
    batches = batches_here(request).filter(closed_at=None).order_by("part__name", "part__variant", "id")
    return page(request, "lost.html", {"batches": list(batches)})


@at_work
def paper(request: HttpRequest, code: str) -> HttpResponse:
    """Which print counts, and the next one."""
    batch = get_object_or_404(batches_here(request), code=code)
    context = {"batch": batch, "last": last_print(batch)}
    if request.method != "POST":
        return page(request, "paper.html", context)
    event_context = event_context_here(request)
    if isinstance(event_context, Refusal):
        return page(request, "paper.html", context, refusal=event_context)
    heading = Heading(
        maker=owner_of_goods(), call_if_found=settings.CALL_WHOM, public_address=settings.PUBLIC_ADDRESS or ""
    )
    size = "Letter" if site_of(request).paper == "Letter" else "A4"
    answer = attempt(print_traveller, event_context=event_context, batch_id=batch.pk, heading=heading, size=size)
    if isinstance(answer, Refusal):
        return page(request, "paper.html", context, refusal=answer)
    return as_pdf(answer.pdf, f"traveller-{batch.code}-{answer.serial}.pdf")


def last_print(batch: Batch) -> TravellerPrint | None:
    """The print that counts; older ones still open."""
    return TravellerPrint.objects.filter(batch=batch).select_related("event").order_by("-serial").first()
