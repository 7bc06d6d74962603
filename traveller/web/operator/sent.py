"""What was sent from here: its code, what is in it, and its note, which only the sender prints."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from sites.access import narrow
from traveller.batches.actions.take_back_dispatch import take_back_dispatch
from traveller.dispatches.actions.unannounced import TAKEN_BACK
from traveller.dispatches.models import Consignment
from traveller.dispatches.papers import print_note
from traveller.journal.models import Parked
from traveller.journal.refusal import Refusal
from traveller.web.operator.both_counts import sent_rows
from traveller.web.operator.reporting import reported_url, tell_here
from traveller.web.operator.sending import owner_of_goods
from traveller.web.operator.shop import actor_of, at_work, page, site_of
from traveller.web.words import say


def sent_from_here(request: HttpRequest, code: str) -> Consignment:
    """Only the sender sees what was sent; the receiver counts first."""
    rows = Consignment.objects.select_related("origin", "destination", "sent_event")
    return get_object_or_404(narrow(rows, actor_of(request), "origin"), code=code)


@at_work
def sent(request: HttpRequest, code: str) -> HttpResponse:
    return _sent_page(request, sent_from_here(request, code))


def _sent_page(request: HttpRequest, consignment: Consignment, refusal: Refusal | None = None) -> HttpResponse:
    return page(request, "sent.html", _sent_context(consignment), refusal=refusal)


def _sent_context(consignment: Consignment) -> dict[str, Any]:
    """What became of its lines, and which of them may be taken back."""
    lines = consignment.lines.select_related("lot__part", "taken_back_event").defer("lot__part__picture")
    rows = sent_rows(consignment, lines.order_by("id"))
    came = Parked.objects.filter(reason=TAKEN_BACK, settled_by=None, figures__consignment=consignment.code)
    return {
        "consignment": consignment,
        "rows": rows,
        "open": [row for row in rows if row["may_take_back"]],
        "on_the_road": any(not row["line"].closed for row in rows),
        "struck": all(row["line"].taken_back_event_id for row in rows),
        "differs": any(row["mark"] == "doubt" for row in rows),
        "settles": owner_of_goods(),
        "came": [say(row.reason, row.figures) for row in came.order_by("id")],
    }


@at_work
def back_here(request: HttpRequest, code: str) -> HttpResponse:
    """It never left: all that nobody has counted there, or one line of it, is taken back."""
    consignment = sent_from_here(request, code)
    context = _sent_context(consignment)
    if request.method != "POST":
        return page(request, "back_here.html", context)
    wanted = request.POST.get("line", "")
    lines = {str(row["line"].pk): row["line"].pk for row in context["rows"]}
    if wanted and wanted not in lines:
        raise Http404
    answer = tell_here(request, take_back_dispatch, consignment_id=consignment.pk, line_id=lines.get(wanted))
    if isinstance(answer, Refusal):
        return page(request, "back_here.html", context, refusal=answer)
    return redirect(reported_url("here_sent", code, reported=request.POST.get("news_id", "")))


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
