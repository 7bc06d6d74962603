"""First-offs: which wait, what was measured on one, what it is run with and what was approved before; the decision."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.views.decorators.http import require_http_methods, require_safe

from traveller.batches.actions.decide_first_piece import decide_first_piece
from traveller.batches.models import FirstPiece, Load, Reading, Step, Verdict
from traveller.batches.proof.first_piece import asked_of, from_data, made_with
from traveller.batches.proof.gates import cap_of
from traveller.batches.reads.papers import limit_texts
from traveller.journal.refusal import Refusal
from traveller.rules.checks.base import MadeWith
from traveller.rules.checks.first_piece import UNDECIDED, changed
from traveller.web.door import attempt
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, link_to, show
from traveller.web.founder.desk.listing import answer_again, back_to
from traveller.web.founder.today.decisions import EACH_MOST, READ_MOST, Decision, few
from traveller.web.founder.work.places import code_words
from traveller.web.words import say

# Older ones stand in the journal of their batches.
BEFORE_MOST = 10


class FirstPieceForm(forms.Form):
    """Yes or no, with its reason."""

    approved = forms.ChoiceField(
        widget=forms.RadioSelect,
        label=lazy("The first-off"),
        choices=[("yes", lazy("Approve: as many may be made as are wanted")), ("no", lazy("Refuse: it is held"))],
    )
    reason = forms.CharField(max_length=300, label=lazy("Why"), help_text=lazy("It stays in the record."))


@dataclass(frozen=True, slots=True)
class SetUpLine:
    """One thing of a set-up: what it is run with now, what was approved, whether that differs."""

    name: str
    now: str
    approved: str
    differs: bool


def _waiting() -> QuerySet[Verdict]:
    """The latest verdicts of first pieces that nobody has approved, of steps that are under way."""
    rows = Verdict.objects.filter(
        latest=True, load=None, code__startswith="approval.", conceded_event=None, step__batch__closed_at=None
    )
    return rows.exclude(outcome="passed").exclude(step__state="done").order_by("event__happened_at", "id")


def tags() -> list[Decision]:
    """For the first page: each that waits, with its figures."""
    rows = _waiting()
    named = rows.select_related("step__batch__part", "step__operation", "step__site")
    found = []
    for row in named.defer("step__batch__part__picture")[:READ_MOST]:
        batch = row.step.batch
        text = _("%(part)s, %(code)s, step %(step)s, %(verb)s (%(site)s): %(why)s") % {
            "part": batch.part.title, "code": code_words(batch.code), "step": row.step.number,
            "verb": row.step.operation.verb, "site": row.step.site.name, "why": say(row.code, row.figures),
        }  # fmt: skip
        link = link_to("first_off", row.step_id)
        found.append(Decision("gate", _("First-off waits"), text, link, _("Look at it and decide")))
    total = rows.count() if len(found) > EACH_MOST else len(found)
    return few(found, _("First-off waits"), "gate", link_to("first_offs"), total)


@require_safe
@founder_page
def first_pieces(request: HttpRequest, desk: Desk) -> HttpResponse:
    """All that wait, the oldest first."""
    named = _waiting().select_related("step__batch__part", "step__operation", "step__site", "event")
    rows = [
        {"verdict": row, "step": row.step, "why": say(row.code, row.figures)}
        for row in named.defer("step__batch__part__picture")
    ]
    sentence = _("No first-off waits for you.")
    if rows:
        sentence = _("First-offs that wait for you: %(n)s. Until then only a few pieces may be made.") % {
            "n": len(rows)
        }
    context = {"section": "home", "title": _("First-offs"), "sentence": sentence, "rows": rows}
    return show(request, desk, "work/first_offs.html", context)


@founder_page
@require_http_methods(["GET", "HEAD", "POST"])
def first_piece(request: HttpRequest, desk: Desk, step_id: int) -> HttpResponse:
    """What is known of the first pieces, and the decision on them."""
    rows = Step.objects.select_related("batch__part", "batch__parent", "operation", "site")
    step = rows.defer("batch__part__picture").filter(pk=step_id).first()
    if step is None:
        raise Http404
    context = _context(step, desk)
    if request.method != "POST":
        return show(request, desk, "work/first_off.html", {**context, "form": FirstPieceForm()})
    form = FirstPieceForm(request.POST)
    if not form.is_valid():
        return answer_again(request, desk, "work/first_off.html", {**context, "form": form})
    event_context = event_context_of(request, desk)
    chosen = form.cleaned_data
    answer = event_context if isinstance(event_context, Refusal) else attempt(
        decide_first_piece,
        event_context=event_context,
        step_id=step.pk,
        approved=chosen["approved"] == "yes",
        reason=chosen["reason"],
    )  # fmt: skip
    if isinstance(answer, Refusal):
        return answer_again(request, desk, "work/first_off.html", {**context, "form": form}, answer)
    return back_to("first_off", step.pk, reported=answer.event.uid)


def _context(step: Step, desk: Desk) -> dict[str, Any]:
    plans = asked_of(step.operation_id)
    verdict = Verdict.objects.filter(step=step, load=None, latest=True, check_key__in=[plan.key for plan in plans])
    latest = verdict.order_by("id").last()
    before = FirstPiece.objects.filter(part=step.batch.part_id, number=step.number).select_related(
        "event", "step__batch"
    )
    decisions = list(before.order_by("-decided_at", "-id")[:BEFORE_MOST])
    now = made_with(step, list(Load.objects.filter(step=step, struck_by=None)))
    approved = next((from_data(row.made_with) for row in decisions if row.approved), None)
    return {
        "section": "home",
        "title": _("First-off"),
        "sentence": _sentence(step, latest, asked=bool(plans)),
        "step": step,
        "batch": step.batch,
        "asked": bool(plans),
        "limits": "; ".join(", ".join(limit_texts(plan)) for plan in plans),
        "cap": cap_of(step, desk.now),
        "set_up": _set_up(now, approved),
        "approved_before": approved is not None,
        "readings": Reading.objects.filter(step=step, struck_by=None).select_related("event").order_by("cavity", "id"),
        "decisions": [{"row": row, "reason": row.event.data["told"]["reason"]} for row in decisions],
    }


def _sentence(step: Step, latest: Verdict | None, *, asked: bool) -> str:
    figures = {"part": step.batch.part.title, "step": step.number, "verb": step.operation.verb}
    if not asked:
        return _("%(part)s, step %(step)s, %(verb)s: no first-off is asked here.") % figures
    figures["why"] = say(latest.code, latest.figures) if latest else say(UNDECIDED)
    return _("%(part)s, step %(step)s, %(verb)s. %(why)s") % figures


def _set_up(now: MadeWith, approved: MadeWith | None) -> list[SetUpLine]:
    """Line by line, so that what changed is seen at once."""
    differs = changed(approved, now) if approved else []
    return [
        SetUpLine(
            words, _shown(getattr(now, name)), _shown(getattr(approved, name)) if approved else "", name in differs
        )
        for name, words in (
            ("design", _("Design (revision and mark)")),
            ("tool", _("Mould")),
            ("cavities", _("Cavities open")),
            ("material", _("Material")),
            ("place", _("Place")),
            ("machines", _("Machine")),
        )
    ]


def _shown(value: str | tuple[str | int, ...]) -> str:
    return value if isinstance(value, str) else ", ".join(map(str, value))
