"""What was sent from here: its code, what is in it, and its note, which only the sender prints."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_POST

from sites.access import narrow
from traveller.dispatches.models import Consignment
from traveller.dispatches.papers import print_note
from traveller.journal.refusal import Refusal
from traveller.web.operator.reporting import tell_here
from traveller.web.operator.shop import actor_of, at_work, page, site_of


def sent_from_here(request: HttpRequest, code: str) -> Consignment:
    """Only the sender sees what was sent; the receiver counts first."""
    rows = Consignment.objects.select_related("origin", "destination", "sent_event")
    return get_object_or_404(narrow(rows, actor_of(request), "origin"), code=code)


@at_work
def sent(request: HttpRequest, code: str) -> HttpResponse:
    return _sent_page(request, sent_from_here(request, code))


def _sent_page(request: HttpRequest, consignment: Consignment, refusal: Refusal | None = None) -> HttpResponse:
    lines = consignment.lines.select_related("lot__part").defer("lot__part__picture")
    context = {"consignment": consignment, "lines": lines}
    return page(request, "sent.html", context, refusal=refusal)


@require_POST
@at_work
def note(request: HttpRequest, code: str) -> HttpResponse:
    """The dispatch note as PDF; its first copy shows the quantities and stays with the sender."""
    consignment = sent_from_here(request, code)
    pdf = tell_here(
        request,
        print_note,
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
