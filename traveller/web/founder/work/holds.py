"""A hold: the figures against their limits, the pieces and where they are, what was made of them; the decision."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.views.decorators.http import require_http_methods

from traveller.batches.actions.decide import Disposition, decide
from traveller.batches.models import Batch, Step
from traveller.batches.reads.papers import limit_texts
from traveller.batches.reads.queries import whereabouts
from traveller.journal.refusal import Refusal
from traveller.ledger import genealogy
from traveller.ledger.models import Account, Condition, Hold, Lot
from traveller.products.frozen import CheckPlan, checks_of
from traveller.products.models import Part
from traveller.shipping.queries import cartons_with
from traveller.web.door import attempt
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, show
from traveller.web.founder.desk.listing import amount, answer_again, back_to
from traveller.web.founder.parts.unknown import may_be_in
from traveller.web.founder.work.dispositions import disposition_word
from traveller.web.founder.work.places import said_of
from traveller.web.words import CONDITIONS, say

# Outside of a carton: what is in one is told carton by carton, so that no piece is shown twice.
_LYING = (Condition.IN_PROCESS, Condition.REWORK, Condition.STOCK, Condition.ON_THE_ROAD)


class DecideForm(forms.Form):
    """One way out, with its reason. A hold behind a check is never just released."""

    disposition = forms.ChoiceField(widget=forms.RadioSelect, label=lazy("What happens to it"))
    to_step = forms.TypedChoiceField(
        required=False, coerce=int, empty_value=None, label=lazy("For rework: from which step on")
    )
    to_part = forms.ModelChoiceField(
        queryset=Part.objects.none(), required=False, empty_label="–", label=lazy("For regrade: what it becomes")
    )
    reason = forms.CharField(max_length=300, label=lazy("Why"), help_text=lazy("It stays in the record."))

    def __init__(self, hold: Hold, steps: Sequence[Step], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        behind_check = hold.cause.startswith("check:")
        ways: list[tuple[str, Any]] = []
        if behind_check:
            ways.append(("concession", _("Use as is, by concession: its outcome stays on record")))
        else:
            ways.append(("release", _("Release: nothing is wrong with it")))
        if steps:
            ways.append(("rework", _("Rework: back to a step, whose tests are made again")))
        others = Part.objects.filter(unit=hold.lot.part.unit).exclude(pk=hold.lot.part_id).defer("picture")
        self.fields["to_part"].queryset = others.order_by("number")  # type: ignore[attr-defined]
        ways.append(("regrade", _("Regrade: it becomes another part")))
        ways.append(("scrap", _("Scrap all of it")))
        if not steps:
            ways.append(("return", _("Return it to whom it came from: it stays held until it is sent back")))
        self.fields["disposition"].choices = ways  # type: ignore[attr-defined]
        self.fields["to_step"].choices = [("", "–")] + [  # type: ignore[attr-defined]
            (step.number, f"{step.number}, {step.operation.verb} ({step.site.name})") for step in steps
        ]

    def clean(self) -> dict[str, Any]:
        reported = super().clean() or {}
        if reported.get("disposition") == "rework" and not reported.get("to_step"):
            self.add_error("to_step", _("Choose the step to go back to."))
        if reported.get("disposition") == "regrade" and not reported.get("to_part"):
            self.add_error("to_part", _("Choose the part that it becomes."))
        return reported


@founder_page
@require_http_methods(["GET", "HEAD", "POST"])
def hold(request: HttpRequest, desk: Desk, hold_id: int) -> HttpResponse:
    """Show what is known and take the decision."""
    rows = Hold.objects.select_related("lot__part", "root__lot", "opened_event__site", "closed_event")
    found = rows.filter(pk=hold_id).first()
    if found is None:
        raise Http404
    batch = Batch.objects.filter(lot=found.lot).select_related("part", "lot", "destination", "parent").first()
    steps = list(batch.steps.select_related("operation", "site").order_by("number")) if batch else []
    context = _context(found, batch, steps)
    if request.method != "POST":
        form = DecideForm(found, steps, initial={"to_step": found.figures.get("step")})
        return show(request, desk, "work/hold.html", {**context, "form": form})
    form = DecideForm(found, steps, request.POST)
    if not form.is_valid():
        return answer_again(request, desk, "work/hold.html", {**context, "form": form})
    event_context = event_context_of(request, desk)
    chosen = form.cleaned_data
    answer = event_context if isinstance(event_context, Refusal) else attempt(
        decide,
        event_context=event_context,
        hold_id=found.pk,
        disposition=cast(Disposition, chosen["disposition"]),
        reason=chosen["reason"],
        to_step=chosen["to_step"] if chosen["disposition"] == "rework" else None,
        to_part=chosen["to_part"].pk if chosen["disposition"] == "regrade" else None,
    )  # fmt: skip
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "work/hold.html", {**context, "form": form}, answer)
    return back_to("hold", found.pk, reported=answer.event.uid)


def _context(found: Hold, batch: Batch | None, steps: Sequence[Step]) -> dict[str, Any]:
    below = sorted(genealogy.descendants(found.lot_id))
    plan = _plan(found, steps)
    return {
        "section": "home",
        "title": _("Hold on %(code)s") % {"code": found.lot.code},
        "sentence": _sentence(found),
        "hold": found,
        "batch": batch,
        "why": say(found.code, found.figures),
        "limits": ", ".join(limit_texts(plan)) if plan else "",
        "source": plan.source if plan else "",
        "disposition": disposition_word(found.disposition),
        "places": _places(found.lot, batch),
        "below": _below(below),
        "may": may_be_in(found.lot),
        "cartons": cartons_with([found.lot_id, *below]),
    }


def _sentence(found: Hold) -> str:
    figures = {"part": found.lot.part.title, "why": say(found.code, found.figures)}
    if found.closed_at is None and found.disposition:
        return _("%(part)s is held, and is to be returned. %(why)s") % figures
    if found.closed_at is None:
        return _("%(part)s is held. %(why)s") % figures
    figures["how"] = disposition_word(found.disposition)
    return _("%(part)s was held. %(why)s Decided: %(how)s.") % figures


def _plan(found: Hold, steps: Sequence[Step]) -> CheckPlan | None:
    """The check that opened the hold, for its limits."""
    if not found.cause.startswith("check:"):
        return None
    _kind, number, key = found.cause.split(":", 2)
    step = next((row for row in steps if row.number == int(number)), None)
    return next((plan for plan in checks_of(step.operation_id) if plan.key == key), None) if step else None


def _places(lot: Lot, batch: Batch | None) -> list[str]:
    """Where its pieces are, in words and figures; what is in cartons stands with the cartons."""
    if batch is not None:
        row = whereabouts([batch])[0]
        return [said_of(row, lie) for lie in row.lies if lie.condition != Condition.PACKED]
    accounts = Account.objects.filter(lot=lot, condition__in=_LYING, balance__gt=0).select_related("site")
    return [
        _("%(n)s %(how)s at %(site)s")
        % {"n": amount(row.balance, lot.part.unit), "how": CONDITIONS[row.condition], "site": row.site.name}
        for row in accounts.order_by("site__name")
    ]


def _below(lot_ids: Sequence[int]) -> list[dict[str, Any]]:
    """Lots made of it, with what of each still lies somewhere outside of a carton."""
    lots = {lot.pk: lot for lot in Lot.objects.filter(pk__in=lot_ids).select_related("part").defer("part__picture")}
    sums: dict[int, int] = dict.fromkeys(lots, 0)
    rows = Account.objects.filter(lot__in=lot_ids, condition__in=_LYING)
    for lot, balance in rows.values_list("lot_id", "balance"):
        sums[lot] += balance
    return [{"lot": lots[pk], "lying": amount(sums[pk], lots[pk].part.unit)} for pk in lots]
