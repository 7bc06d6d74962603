"""One consignment: its lines, both counts of each, and the deeds: settle, count for the receiver, print the note."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from traveller.batches.actions.count_again import count_again
from traveller.batches.actions.receive import receive
from traveller.batches.actions.settle_difference import settle_difference
from traveller.dispatches import queries
from traveller.dispatches.actions.count_again import may_count_again
from traveller.dispatches.actions.receive import beyond_sent
from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.dispatches.papers import print_note
from traveller.dispatches.weighed import kept_scale
from traveller.journal.event_context import EventContext
from traveller.journal.refusal import Refusal
from traveller.rules.codes import TravellerCode
from traveller.rules.codes import show_code as show_code
from traveller.web.door import attempt, new_uid
from traveller.web.founder.desk.amounts import AmountField, how_typed
from traveller.web.founder.desk.days import DayField
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, show
from traveller.web.founder.desk.listing import amount, answer_again, back_to, typed_amount
from traveller.web.founder.subcontractors.consignments import is_open, is_struck, rest_words
from traveller.web.founder.subcontractors.count_words import METHOD_WORDS, count_words, explained, method_words
from traveller.web.founder.subcontractors.speaking import event_context_at
from traveller.web.templatetags.look import moment_words
from traveller.web.words import say

FINDINGS = {
    "lost": gettext_lazy("Lost on the way: the rest becomes scrap."),
    "at_sender": gettext_lazy("The sender's shelf: they never left, or came off it uncounted."),
    "never_counted": gettext_lazy("Never counted when they were made: they are added to what was made."),
}


class SettleForm(forms.Form):
    """Where did the rest go? Only the findings that can explain its sign are offered."""

    finding = forms.ChoiceField(label=gettext_lazy("What was found"), widget=forms.RadioSelect)
    reason = forms.CharField(
        label=gettext_lazy("Why"), max_length=200, help_text=gettext_lazy("It stays in the record.")
    )

    def __init__(self, *args: Any, line: ConsignmentLine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fitting = ("lost", "at_sender") if line.difference > 0 else ("never_counted", "at_sender")
        self.fields["finding"].choices = [(key, FINDINGS[key]) for key in fitting]  # type: ignore[attr-defined]


class CountForm(forms.Form):
    """A count that a shop told by phone."""

    quantity = AmountField(label=gettext_lazy("Counted there"))
    method = forms.ChoiceField(label=gettext_lazy("How"), choices=list(METHOD_WORDS.items()))
    sample = AmountField(
        most=1_000_000,
        counts=True,
        label=gettext_lazy("Pieces weighed for the piece weight"),
        required=False,
        help_text=gettext_lazy("Only for a count by weight."),
    )
    seen = forms.BooleanField(label=gettext_lazy("They knew the sender's figure before they counted"), required=False)
    more_to_come = forms.BooleanField(label=gettext_lazy("More of it is still to come"), required=False)
    rest_due = DayField(label=gettext_lazy("When the rest is to come"), required=False)
    note = forms.CharField(label=gettext_lazy("Remark"), required=False, max_length=200)

    def __init__(self, *args: Any, line: ConsignmentLine, again: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["quantity"].base = line.lot.part.unit  # type: ignore[attr-defined]
        if again:
            # Counted again, after both figures were shown.
            del self.fields["more_to_come"], self.fields["rest_due"]
            self.fields["seen"].initial = True


@founder_page
@require_safe
def consignment(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    return show(request, desk, "subcontractors/consignment.html", _context(_found(code)))


def _found(code: str) -> Consignment:
    found = queries.find_consignment(code.replace("-", "").upper())
    if found is None:
        raise Http404
    return found


def _context(found: Consignment, bound: dict[int, forms.Form] | None = None) -> dict[str, Any]:
    """The page's words and a form for each line that waits; `bound` keeps what was typed."""
    counts = queries.counts_of(found)
    lines = [_row(line, (bound or {}).get(line.pk), counts[line.pk]) for line in found.lines.all()]
    differs = [row for row in lines if row["open"]]
    return {
        "section": "consignments",
        "consignment": found,
        "counted_at": None if is_struck(found) else found.received_at,
        "lines": lines,
        "sentence": _sentence_of(found, differs),
        "public_address": settings.PUBLIC_ADDRESS,
    }


def _row(line: ConsignmentLine, form: forms.Form | None, counts: list[queries.ArrivalCount]) -> dict[str, Any]:
    again = line.closed and may_count_again(line)
    differs = line.closed and line.sent != line.received + line.misdirected
    return {
        "line": line,
        "news_id": form.data.get("news_id") if form else str(new_uid()),
        **_figures(line, counts),
        "open": is_open(line),
        "counts": [count_words(count, line.lot.part.unit) for count in counts],
        "again": again,
        "explained": explained(line) if counts and differs else [],
        "settle": _kept(form, SettleForm, line) if is_open(line) else None,
        "count": _kept(form, CountForm, line, again=again) if again or not line.closed else None,
    }


def _figures(line: ConsignmentLine, counts: list[queries.ArrivalCount]) -> dict[str, str]:
    unit = line.lot.part.unit
    return {
        "sent": _sent(line),
        "sent_how": method_words(line.sent_method, line.sent_sample),
        "received": amount(line.received, unit) if counts else "",
        "received_how": method_words(line.received_method, line.received_sample) if line.received_method else "",
        "totes": " + ".join(amount(n, unit) for n in line.totes),
        "road": amount(max(0, line.remaining), unit) if line.received or line.misdirected else "",
        "misdirected": amount(line.misdirected, unit) if line.misdirected else "",
        "rest": rest_words(line) if line.closed and line.difference else "",
    }


def _sent(line: ConsignmentLine) -> str:
    """What left, as it was typed too where that was converted."""
    reported = line.consignment.sent_event.data["told"]["lines"]
    hows = [row[7] for row in reported if len(row) > 7 and row[:2] == [line.lot_id, line.sent]]
    typed = hows[0].get("typed", "") if hows else ""
    return typed_amount({"quantity": line.sent, "typed": typed}, line.lot.part.unit)


def _kept(
    form: forms.Form | None, kind: type[SettleForm] | type[CountForm], line: ConsignmentLine, **more: Any
) -> forms.Form:
    """What was typed, where it was typed into this form: a line may have been counted or settled meanwhile."""
    return form if isinstance(form, kind) else kind(line=line, prefix=f"l{line.pk}", **more)


def _sentence_of(found: Consignment, differs: list[dict[str, Any]]) -> str:
    figures = {
        "code": show_code(TravellerCode(found.code)),
        "origin": found.origin.name,
        "destination": found.destination.name,
        "sent": moment_words(found.sent_at),
    }
    if is_struck(found):
        words = _("Dispatch %(code)s from %(origin)s to %(destination)s was taken back by its sender: it never left.")
        return words % figures
    first = _("Consignment %(code)s left %(origin)s for %(destination)s on %(sent)s.") % figures
    if differs:
        rest = ", ".join(f"{row['line'].lot.part.title}: {row['rest']}" for row in differs)
        return f"{first} {_('The counts differ. %(rest)s.') % {'rest': rest}}"
    if found.received_at is None:
        return f"{first} {_('It is on the road.')}"
    counted = _("It was counted on arrival, %(when)s.") % {"when": moment_words(found.received_at)}
    return f"{first} {counted}"


def _line(found: Consignment, line_id: int) -> ConsignmentLine:
    for line in found.lines.all():
        if line.pk == line_id:
            return line
    raise Http404


@founder_page
@require_POST
def settle(request: HttpRequest, desk: Desk, code: str, line_id: int) -> HttpResponse:
    found = _found(code)
    line = _line(found, line_id)
    form = SettleForm(request.POST, line=line, prefix=f"l{line.pk}")
    if not form.is_valid():
        return answer_again(request, desk, "subcontractors/consignment.html", _context(found, {line.pk: form}))
    event_context = event_context_of(request, desk)
    answer = (
        event_context
        if isinstance(event_context, Refusal)
        else attempt(settle_difference, event_context=event_context, line_id=line.pk, **form.cleaned_data)
    )
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "subcontractors/consignment.html", _context(found, {line.pk: form}), answer)
    messages.success(request, _("The difference is settled."))
    return back_to("consignment", found.code, reported=request.POST.get("news_id"))


@founder_page
@require_POST
def count(request: HttpRequest, desk: Desk, code: str, line_id: int) -> HttpResponse:
    """The receiver phoned its count in, or that it has counted again."""
    found = _found(code)
    line = _line(found, line_id)
    again = request.POST.get("again") == "yes"
    form = CountForm(request.POST, line=line, again=again, prefix=f"l{line.pk}")
    if not form.is_valid():
        return answer_again(request, desk, "subcontractors/consignment.html", _context(found, {line.pk: form}))
    event_context = event_context_at(request, desk, found.destination)
    reported = {**form.cleaned_data, "sample": form.cleaned_data["sample"] or 0}
    over = 0 if line.closed and not again else _over(line, reported, again=again)
    if over and request.POST.get("over") != str(reported["quantity"]):
        form.add_error("quantity", _over_words(line, over))
        shown = _context(found, {line.pk: form})
        for row in shown["lines"]:
            if row["line"].pk == line.pk:
                row |= {"over": reported["quantity"], "over_words": amount(over, line.lot.part.unit)}
        return answer_again(request, desk, "subcontractors/consignment.html", shown)
    answer = (
        event_context
        if isinstance(event_context, Refusal)
        else _tell_count(event_context, line, {**reported, "how": how_typed(form, "quantity")}, again=again)
    )
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "subcontractors/consignment.html", _context(found, {line.pk: form}), answer)
    messages.success(request, _("The count is recorded."))
    return back_to("consignment", found.code, reported=request.POST.get("news_id"))


def _over(line: ConsignmentLine, reported: dict[str, Any], *, again: bool) -> int:
    """How many more than were sent, and more than such counts can be apart."""
    scale = kept_scale(line.lot.part_id, reported["method"], None)
    return beyond_sent(line, reported["quantity"], reported["method"], reported["sample"], scale, again=again)


def _over_words(line: ConsignmentLine, over: int) -> str:
    unit = line.lot.part.unit
    figures = {"counted": line.sent + over, "sent": line.sent, "over": over}
    return say("over_sent", {name: amount(quantity, unit) for name, quantity in figures.items()})


def _tell_count(event_context: EventContext, line: ConsignmentLine, reported: dict[str, Any], *, again: bool) -> object:
    """The first count of a line, or once more of one that was counted: then nothing more of it is to come."""
    if again:
        return attempt(count_again, event_context=event_context, line_id=line.pk, **reported)
    return attempt(receive, event_context=event_context, line_id=line.pk, **reported)


@founder_page
@require_POST
def note(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """The dispatch note: the sender's copy with quantities, the receiver's without."""
    found = _found(code)
    event_context = event_context_of(request, desk)
    answer = (
        event_context
        if isinstance(event_context, Refusal)
        else attempt(
            print_note,
            event_context=event_context,
            consignment_id=found.pk,
            public_address=settings.PUBLIC_ADDRESS or "",
            size=found.origin.paper,
        )
    )
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "subcontractors/consignment.html", _context(found), answer)
    paper = HttpResponse(answer, content_type="application/pdf")
    paper["Content-Disposition"] = f'inline; filename="note-{found.code}.pdf"'
    return paper
