"""Recorded: what was taken down, what it led to, and what comes next."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import Sum
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone

from sites.access import narrow
from traveller.batches.actions.undo import may_undo
from traveller.batches.history.built_on import UNDONE_NEWS, was_undone
from traveller.batches.models import Batch, Count, Load, Step, StepState
from traveller.batches.reads.corrected import corrected_by
from traveller.batches.reads.waiting import waiting_at
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import next_step
from traveller.journal.models import Event
from traveller.ledger.models import Account, Condition
from traveller.products.models import OperationKind
from traveller.web.operator.deeds import inside_words, uncounted
from traveller.web.operator.reporting import form_let_go
from traveller.web.operator.shop import actor_of, at_work, page, step_here
from traveller.web.words import say


@at_work
def reported(request: HttpRequest, uid: UUID) -> HttpResponse:
    event = get_object_or_404(narrow(Event.objects.select_related("corrects"), actor_of(request), "site"), uid=uid)
    answer = Answer(event)
    step = _step_of(request, event, answer)
    waits = waiting_at(step)
    here, rework = waits.here, waits.rework
    following = next_step(step)
    next_here = None
    if following and following.site_id == step.site_id:
        next_here = Step.objects.filter(batch=step.batch, number=following.number).select_related("operation").first()
    goes_to = following.site if following and following.site_id != step.site_id else step.batch.destination
    apart = [_set_apart(child, step) for child in answer.children]
    same = request.GET.get("same") == "1"
    context = {
        "step": step,
        "batch": step.batch,
        **_counted(event),
        "event": event,
        "inside_words": inside_words(waits),
        "here": here if step.operation.kind == OperationKind.WORK else 0,
        "waiting_rework": rework,
        "counts_on": _counts_on(step, waits.lying, rework),
        "verdicts": _verdicts(answer),
        "apart": apart,
        "holds": [say(h.code, h.figures) for h in answer.holds if h.lot_id == step.batch.lot_id],
        "next_here": next_here,
        "next_waiting": waiting_at(next_here).here if next_here else 0,
        "goes_to": goes_to,
        "to_send": 0 if next_here or goes_to == step.site else _on_the_shelf(step),
        "uncounted": _uncounted(event, step),
        # A form whose pieces are these: the answer to it has come, though nothing of it stands under its own id.
        "confirmed": form_let_go(request) if same else str(uid),
        "same": same,
        "undo_uid": str(uid) if may_undo(event, timezone.now()) and not same else "",
        "undone": event.kind == UNDONE_NEWS,
    }
    return page(request, "told.html", context)


def _counted(event: Event) -> dict[str, Any]:
    """The pieces that it told or took back, and whether they can be corrected."""
    counts = list(Count.objects.filter(event=event).select_related("load"))
    struck = was_undone(event) is not None
    return {
        "struck": struck,
        "corrected": corrected_by(event) if event.kind == "count corrected" else None,
        "good": sum(c.good for c in counts),
        "scrap": sum(c.scrap for c in counts),
        "rework": sum(c.rework for c in counts),
        "samples": sum(c.samples for c in counts),
        "again": any(c.again for c in counts),
        "counted": bool(counts) and event.kind != UNDONE_NEWS,
        "may_correct": event.kind == "counted" and bool(counts) and not struck,
    }


def _on_the_shelf(step: Step) -> int:
    """Pieces whose steps here are all done and that wait to be sent."""
    rows = Account.objects.filter(lot=step.batch.lot_id, site=step.site_id, condition=Condition.STOCK)
    return rows.aggregate(all=Sum("balance"))["all"] or 0 if step.batch.lot_id else 0


def _uncounted(event: Event, step: Step) -> Load | None:
    """A load that was just measured or came out and whose pieces are still to be counted."""
    if event.kind == "counted":
        return None
    return uncounted(step, list(Load.objects.filter(step=step, struck_by=None).order_by("number")))


def _step_of(request: HttpRequest, event: Event, answer: Answer) -> Step:
    """The step that the news was about, as the phone knew it: not the one that a failed load was split off to."""
    about: dict[str, Any] = {**event.data.get("told", {}), **(event.data if event.corrects else {})}
    step_id = about.get("step_id") or about.get("step")
    if not isinstance(step_id, int):
        step_id = get_object_or_404(Load, pk=about.get("load")).step_id if "load" in about else None
    if not isinstance(step_id, int):
        raise Http404
    step = step_here(request, step_id)
    if step.batch in answer.children and step.batch.parent_id:
        parent = Step.objects.filter(batch=step.batch.parent_id, number=step.number).first()
        return step_here(request, parent.pk) if parent else step
    return step


def _counts_on(step: Step, here: int, rework: int) -> bool:
    """There is more to do at this very step."""
    if step.state == StepState.DONE:
        return rework > 0
    return here > 0 or rework > 0 or step.operation.kind != OperationKind.WORK


def _verdicts(answer: Answer) -> list[tuple[str, str]]:
    """What the checks say now; what is merely missing while the step goes on is left to the step's own page."""
    marks = {"passed": "free", "failed": "held"}
    shown = [
        (marks[v.outcome], say(v.code, v.figures))
        for v in answer.verdicts
        if v.outcome in marks and (v.load_id is None or v.outcome == "failed")
    ]
    # A load that failed is judged in its lot and then in its own: one sentence says it.
    return list(dict.fromkeys(shown))


def _set_apart(child: Batch, step: Step) -> dict[str, Any]:
    """Pieces that got a code of their own, and whether they are still to be counted."""
    own = Step.objects.filter(batch=child, number=step.number).first()
    load = Load.objects.filter(step=own).first() if own else None
    return {
        "batch": child,
        "quantity": child.start,
        "load": load,
        "count_step": own if own and load and not load.counts.exists() else None,
    }
