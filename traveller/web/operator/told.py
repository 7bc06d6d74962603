"""Recorded: what was taken down, what it led to, and what comes next."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from sites.access import narrow
from traveller.batches.answer import Answer
from traveller.batches.fetch import next_step
from traveller.batches.models import Count, Step
from traveller.journal.models import Event
from traveller.web.operator.shop import actor_of, at_work, page, step_here
from traveller.web.operator.step import waiting_at
from traveller.web.words import say


@at_work
def told(request: HttpRequest, uid: UUID) -> HttpResponse:
    event = get_object_or_404(narrow(Event.objects.all(), actor_of(request), "site"), uid=uid)
    step_id = event.data.get("told", {}).get("step")
    if not isinstance(step_id, int):
        raise Http404
    step = step_here(request, step_id)
    answer = Answer(event)
    counts = list(Count.objects.filter(event=event))
    here, rework = waiting_at(step)
    following = next_step(step)
    next_here = None
    if following and following.site_id == step.site_id:
        next_here = Step.objects.filter(batch=step.batch, number=following.number).first()
    context = {
        "step": Step.objects.select_related("batch__part", "operation", "batch__destination").get(pk=step.pk),
        "batch": step.batch,
        "good": sum(c.good for c in counts),
        "scrap": sum(c.scrap for c in counts),
        "rework": sum(c.rework for c in counts),
        "counted": bool(counts),
        "here": here,
        "waiting_rework": rework,
        "verdicts": [(v.outcome, say(v.code, v.figures)) for v in answer.verdicts if v.load_id is None],
        "children": answer.children,
        "holds": [say(h.code, h.figures) for h in answer.holds],
        "next_here": next_here,
        "goes_to": following.site if following and following.site_id != step.site_id else step.batch.destination,
        "confirmed": str(uid),
    }
    return page(request, "told.html", context)
