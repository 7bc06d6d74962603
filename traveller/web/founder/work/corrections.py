"""A count was wrong: the founder says what it should have been, and why."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.views.decorators.http import require_http_methods

from traveller.batches.actions.correct_count import correct_count
from traveller.batches.models import Count
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.rules.codes import show_code as show_code
from traveller.web.door import attempt
from traveller.web.founder.desk.amounts import AmountField, of_unit, to_type
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, link_to, show
from traveller.web.founder.desk.listing import amount, answer_again, back_to
from traveller.web.founder.work.news import pieces_words
from traveller.web.templatetags.look import moment_words


class CorrectForm(forms.Form):
    """The figures as they should have been; a field for each reason of scrap that this operation knows."""

    good = AmountField(label=lazy("Good"))
    rework = AmountField(label=lazy("To rework"))
    samples = AmountField(label=lazy("Samples"))
    reason = forms.CharField(max_length=300, label=lazy("Why was it wrong"), help_text=lazy("It stays in the record."))

    def __init__(self, reasons: list[str], *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.reasons = reasons
        for place, reason in enumerate(reasons):
            label = _("Scrap: %(reason)s") % {"reason": reason}
            self.fields[f"scrap_{place}"] = AmountField(label=label, required=False)
        self.order_fields(["good", *(f"scrap_{place}" for place in range(len(reasons))), "rework", "samples", "reason"])
        of_unit(self, unit)

    def scrap(self) -> dict[str, int]:
        """Pieces by reason, as they were typed."""
        reported = {reason: self.cleaned_data[f"scrap_{place}"] or 0 for place, reason in enumerate(self.reasons)}
        return {reason: pieces for reason, pieces in reported.items() if pieces}


@founder_page
@require_http_methods(["GET", "HEAD", "POST"])
def correct(request: HttpRequest, desk: Desk, event_id: int) -> HttpResponse:
    """The count as it was told, and the form for what it should have been."""
    first = (
        Count.objects.filter(event=event_id, event__kind="counted")
        .select_related("event__site", "step__operation", "step__batch__part")
        .first()
    )
    if first is None:
        raise Http404
    stands = _as_it_stands(first.event)
    reasons = list(dict.fromkeys([*first.step.operation.scrap_reasons, *stands["scrap"]]))
    context = _context(first, stands)
    unit = first.step.batch.part.unit
    if request.method != "POST":
        stood = {name: stands[name] for name in ("good", "rework", "samples")}
        stood |= {f"scrap_{place}": stands["scrap"].get(reason, 0) for place, reason in enumerate(reasons)}
        initial = {name: to_type(quantity, unit) for name, quantity in stood.items()}
        form = CorrectForm(reasons, initial=initial, unit=unit)
        return show(request, desk, "work/correct.html", {**context, "form": form})
    form = CorrectForm(reasons, request.POST, unit=unit)
    if not form.is_valid():
        return answer_again(request, desk, "work/correct.html", {**context, "form": form})
    event_context = event_context_of(request, desk)
    answer = event_context if isinstance(event_context, Refusal) else attempt(
        correct_count,
        event_context=event_context,
        event_id=event_id,
        reason=form.cleaned_data["reason"],
        good=form.cleaned_data["good"],
        scrap=form.scrap(),
        rework=form.cleaned_data["rework"],
        samples=form.cleaned_data["samples"],
    )  # fmt: skip
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "work/correct.html", {**context, "form": form}, answer)
    return back_to("batch", first.step.batch.code, reported=answer.event.uid)


def _as_it_stands(event: Event) -> dict[str, Any]:
    """The count with all corrections since."""
    rows = list(Count.objects.filter(event=event)) + list(Count.objects.filter(event__corrects=event))
    scrap: dict[str, int] = {}
    for row in rows:
        for reason, pieces in row.by_reason.items():
            scrap[reason] = scrap.get(reason, 0) + pieces
    stands: dict[str, Any] = {name: sum(getattr(row, name) for row in rows) for name in ("good", "rework", "samples")}
    return {**stands, "scrap": {reason: pieces for reason, pieces in scrap.items() if pieces}}


def _context(count: Count, stands: dict[str, Any]) -> dict[str, Any]:
    batch, step = count.step.batch, count.step
    pieces = pieces_words(stands, lambda n: amount(n, batch.part.unit))
    figures = {
        "part": batch.part.title, "step": step.number, "verb": step.operation.verb, "pieces": pieces,
        "when": moment_words(count.event.happened_at), "person": count.event.person,
    }  # fmt: skip
    return {
        "section": "home",
        "title": _("Correct a count"),
        "sentence": _("%(part)s, step %(step)s, %(verb)s: %(pieces)s, told by %(person)s on %(when)s.") % figures,
        "batch": batch,
        "batch_code": show_code(batch.code),
        "back": link_to("batch", batch.code),
    }
