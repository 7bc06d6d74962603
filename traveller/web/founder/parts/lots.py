"""Any lot, bought or made: what of it is where, what holds it, where it came from and where it went."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.views.decorators.http import require_POST, require_safe

from traveller.batches.actions.hold import hold_lot
from traveller.batches.models import Batch
from traveller.batches.reads.queries import history
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Account, Lot
from traveller.shipping.queries import cartons_with
from traveller.web.door import attempt
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, show
from traveller.web.founder.desk.listing import amount, answer_again, back_to
from traveller.web.founder.parts.family import family
from traveller.web.founder.parts.unknown import may_be_in, unknown_material
from traveller.web.founder.parts.went import where_it_went
from traveller.web.founder.work.batch_facts import hold_lines
from traveller.web.founder.work.batches import HoldForm
from traveller.web.founder.work.names_known import NamesKnown
from traveller.web.founder.work.news import history_of
from traveller.web.words import CONDITIONS, say

ORIGINS = {
    "batch": lazy("made as a batch"),
    "split": lazy("set apart from another lot"),
    "purchase": lazy("bought"),
    "opening": lazy("opening stock"),
    "adopted": lazy("taken over"),
    "mixed": lazy("mixed from several lots in one tote"),
    "provisional": lazy("provisional: it came without a label"),
    "found": lazy("came without papers"),
    "regrade": lazy("regraded from another part"),
}
_SHOWN = ("in_process", "rework", "stock", "packed", "on_the_road")


def lot_or_404(code: str) -> Lot:
    found = Lot.objects.select_related("part", "subject", "born_event__site").filter(code=code.upper()).first()
    if found is None:
        raise Http404
    return found


@founder_page
@require_safe
def lot(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """The page of one lot."""
    found = lot_or_404(code)
    return show(request, desk, "parts/lot.html", _context(found))


@founder_page
@require_POST
def hold(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """Stop a lot and all that was made from it."""
    found = lot_or_404(code)
    form = HoldForm(request.POST)
    if not form.is_valid():
        return answer_again(request, desk, "parts/lot.html", _context(found, form))
    event_context = event_context_of(request, desk)
    answer = event_context if isinstance(event_context, Refusal) else attempt(
        hold_lot, event_context=event_context, lot_id=found.pk, reason=form.cleaned_data["reason"]
    )  # fmt: skip
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "parts/lot.html", _context(found, form), answer)
    return back_to("lot", found.code, reported=answer.event.uid)


def _context(found: Lot, form: forms.Form | None = None) -> dict[str, Any]:
    accounts = list(
        found.accounts.exclude(balance=0).select_related("site").order_by("condition", "site__name", "step")
    )
    holds = hold_lines(found)
    down, up = family(found, down=True), family(found, down=False)
    return {
        "section": "stock",
        "title": _("Lot %(code)s") % {"code": found.code},
        "sentence": _sentence(found, accounts, holds),
        "lot": found,
        "batch": Batch.objects.filter(lot=found).first(),
        "origin": ORIGINS.get(found.origin, found.origin),
        "accounts": [
            {"row": row, "words": CONDITIONS[row.condition], "amount": amount(row.balance, found.part.unit)}
            for row in accounts
        ],
        "holds": holds,
        "down": down,
        "up": up,
        "unknown": unknown_material([found.pk, *(row.lot.pk for row in up.lots)]),
        "may": may_be_in(found),
        "went": where_it_went(found, accounts),
        # Those with the lot itself are told where it went.
        "cartons": cartons_with([row.lot.pk for row in down.lots]),
        "hold_form": form or HoldForm(),
        "news": history_of(history([found.subject_id]), NamesKnown(lot_id=found.pk)),
    }


def _sentence(found: Lot, accounts: list[Account], holds: list[Any]) -> str:
    lying = [row for row in accounts if row.condition in _SHOWN]
    where = "; ".join(
        f"{amount(row.balance, found.part.unit)} {CONDITIONS[row.condition]}, {row.site.name}" for row in lying[:3]
    )
    text = _("%(part)s: %(where)s.") % {"part": found.part.title, "where": where or _("nothing of it lies anywhere")}
    open_holds = [line for line in holds if line.hold.closed_at is None]
    if open_holds:
        first = open_holds[0].root
        text += " " + _("It is held: %(why)s") % {"why": say(first.code, first.figures)}
    return text
