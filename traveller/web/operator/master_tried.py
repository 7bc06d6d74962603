"""The test master: did the tester find it? Told at the start and end of each shift, with whatever batch is on it."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from traveller.batches.actions.measure import measure
from traveller.batches.proof.readings import ReadingTold
from traveller.batches.proof.tester import asked_of, latest_tries
from traveller.journal.refusal import Refusal
from traveller.rules.checks.master import MASTER
from traveller.web.door import attempt
from traveller.web.operator.reporting import event_context_here, note_of
from traveller.web.operator.shop import at_work, page, step_here

_SHOWN = 6


@at_work
def master_tried(request: HttpRequest, step_id: int) -> HttpResponse:
    """Yes or no, each a button; what is told of this tester already stands below. Nothing to tell elsewhere."""
    step = step_here(request, step_id)
    plan = asked_of(step.operation_id)
    if plan is None:
        return redirect("here_step", step.pk)
    context: dict[str, Any] = {
        "step": step,
        "batch": step.batch,
        "test": plan.terms.test,
        "tries": latest_tries(step, plan, _SHOWN),
    }
    if request.method != "POST":
        return page(request, "known_leak.html", context)
    found = request.POST.get("found")
    if found not in ("1", "0"):
        return page(request, "known_leak.html", {**context, "unsaid": True}, status=422)
    event_context = event_context_here(request)
    if isinstance(event_context, Refusal):
        return page(request, "known_leak.html", context, refusal=event_context)
    reported = [ReadingTold(check_key=plan.key, name=MASTER, value=found)]
    answer = attempt(measure, event_context=event_context, step_id=step.pk, readings=reported, note=note_of(request))
    if isinstance(answer, Refusal):
        return page(request, "known_leak.html", context, refusal=answer)
    return redirect("here_told", answer.event.uid)
