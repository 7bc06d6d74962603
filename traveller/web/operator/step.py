"""One step of one batch: what it needs, the one great button for what comes next, the rest below."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from traveller.batches.actions.finish_step import finish_step
from traveller.batches.actions.start_step import start_step
from traveller.batches.files.decoded import being_read
from traveller.batches.models import Load, Step, StepState, Verdict
from traveller.batches.reads.waiting import waiting_at
from traveller.batches.usable import usable_to_start
from traveller.journal.refusal import Refusal
from traveller.ledger.holds import open_on
from traveller.products.frozen import CheckPlan, checks_of
from traveller.products.models import OperationKind
from traveller.rules.cautions import CAUTIONS
from traveller.web.door import attempt
from traveller.web.operator.deeds import deeds_of, inside_words, load_seconds
from traveller.web.operator.is_all import MORE, all_context, is_that_all, more_will_come, said_all, unanswered_all
from traveller.web.operator.proof import proofs_of
from traveller.web.operator.reporting import (
    already_recorded,
    ask,
    event_context_here,
    form_let_go,
    note_of,
    reported_url,
    tell_here,
)
from traveller.web.operator.shop import at_work, page, step_here
from traveller.web.operator.undo import undo_of
from traveller.web.words import limit_words, say


@at_work
def step(request: HttpRequest, step_id: int) -> HttpResponse:
    return hub(request, step_here(request, step_id))


def hub(request: HttpRequest, row: Step, refusal: Refusal | None = None) -> HttpResponse:
    plans = checks_of(row.operation_id)
    loads = list(Load.objects.filter(step=row, struck_by=None).order_by("number"))
    waits = waiting_at(row)
    stop = usable_to_start([row], timezone.localtime(timezone.now(), row.site.zone).date())[row.pk]
    great, others = deeds_of(row, loads, waits.lying, waits.rework, stopped=stop is not None)
    verdicts = {v.check_key: v for v in Verdict.objects.filter(step=row, load=None, latest=True)}
    context: dict[str, Any] = {
        "step": row,
        "batch": row.batch,
        "here": waits.here,
        "inside_words": inside_words(waits),
        "rework": waits.rework,
        "counts": row.operation.kind != OperationKind.PREPARE,
        "open_loads": [load for load in loads if load.ended_at is None],
        "closed_loads": [load for load in loads if load.ended_at is not None],
        "limits": [(plan.key.replace("-", " "), limit_words(plan), plan.is_gate) for plan in plans],
        "shown": [_shown(plan, verdicts[plan.key]) for plan in plans if _tells(row, verdicts.get(plan.key))],
        "stops": [say(stop.code, stop.figures)] if stop else [],
        "holds": [say(h.code, h.figures) for h in open_on([row.batch.lot_id])] if row.batch.lot_id else [],
        "cautions": CAUTIONS.get(row.operation.work, CAUTIONS["other"]),
        "great": great,
        "others": others,
        "load_seconds": load_seconds(row),
        "proofs": proofs_of(row),
        "undo_uid": undo_of(request),
    }
    if request.GET.get("left") == "1":
        context |= {"left": True, "confirmed": form_let_go(request)}
    return page(request, "step.html", context, refusal=refusal)


def _tells(row: Step, verdict: Verdict | None) -> bool:
    """A time that still runs is told by the timer, not by a sentence about its missing end."""
    if verdict is None:
        return False
    running = row.state != StepState.DONE and verdict.code.startswith(("held.", "loads."))
    return verdict.outcome != "missing" or not running


def _shown(plan: CheckPlan, verdict: Verdict) -> tuple[str, str]:
    """A mark and a sentence: while a step runs, what is merely missing is no alarm."""
    if verdict.outcome == "passed" or verdict.conceded_event_id:
        mark = "free"
    elif verdict.outcome == "failed":
        mark = "held" if plan.is_gate else "doubt"
    else:
        mark = "two"
    return mark, " ".join(filter(None, (say(verdict.code, verdict.figures), _loads_too(verdict))))


def _loads_too(verdict: Verdict) -> str:
    """The step is as its worst load, which is named; of others the same may be so."""
    alike = Verdict.objects.filter(
        step=verdict.step_id, check_key=verdict.check_key, code=verdict.code, load__isnull=False, latest=True
    )
    numbers = list(alike.order_by("load__number").values_list("load__number", flat=True))
    others = [number for number in numbers if number != verdict.figures.get("load")]
    if "load" not in verdict.figures or not others:
        return ""
    return ngettext("The same of load %(loads)s.", "The same of loads %(loads)s.", len(others)) % {
        "loads": ", ".join(map(str, others))
    }


@require_POST
@at_work
def start(request: HttpRequest, step_id: int) -> HttpResponse:
    row = step_here(request, step_id)
    answer = tell_here(request, start_step, step_id=row.pk, already=request.POST.get("already") == "yes")
    if isinstance(answer, Refusal):
        return hub(request, row, answer)
    return redirect(reported_url("here_step", row.pk, reported=str(answer.event.uid)))


@at_work
def finish(request: HttpRequest, step_id: int) -> HttpResponse:
    """Say that the step is done; what is still there must be explained first."""
    row = step_here(request, step_id)
    waits = waiting_at(row)
    here = waits.lying if row.operation.kind == OperationKind.WORK else 0
    loads = Load.objects.filter(step=row, ended_at=None, struck_by=None)
    context = {"step": row, "batch": row.batch, "here": here, "rework": waits.rework, "loads_in": list(loads)}
    context["being_read"] = being_read([row.pk])
    all_asked = is_that_all(row, lost=here)
    if request.method != "POST":
        return page(request, "finish.html", context | all_context(request, all_asked))
    if more_will_come(request):
        return redirect(f"{reverse('here_step', args=[row.pk])}?left=1")
    event_context = event_context_here(request)
    if isinstance(event_context, Refusal):
        return page(request, "finish.html", context, refusal=event_context)
    before = already_recorded(request)
    lost = before.data["told"].get("lost", 0) if before else here
    if lost and request.POST.get("rest") != "lost":
        return page(request, "finish.html", context, refusal=Refusal("rest_unexplained", {"there": lost}))
    if before is None and all_asked and unanswered_all(request, all_asked):
        return ask(request, all_asked, context, same=MORE)
    answer = attempt(
        finish_step,
        event_context=event_context,
        step_id=row.pk,
        lost=lost,
        note=note_of(request),
        is_all=said_all(request),
    )
    if isinstance(answer, Refusal):
        return page(request, "finish.html", context, refusal=answer)
    return redirect("here_told", answer.event.uid)
