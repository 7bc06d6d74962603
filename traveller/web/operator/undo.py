"""Taken back: what was just told did not occur. After ten minutes, or built upon, the correction is offered."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from sites.access import narrow
from traveller.batches.actions.undo import UNDOABLE, may_undo, undo
from traveller.batches.history.built_on import was_undone
from traveller.batches.models import Count, Load, Step
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.web.door import queued_of
from traveller.web.operator.reporting import event_here, just_reported, tell_here
from traveller.web.operator.shop import actor_of, at_work, page, step_here


@at_work
def take_back(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What it was, and the button; a refusal leads on to the correction."""
    rows = narrow(Event.objects.filter(kind__in=UNDOABLE), actor_of(request), "site")
    event = get_object_or_404(rows, uid=uid)
    step = step_here(request, _step_id(event))
    context = {
        "step": step,
        "batch": step.batch,
        "event": event,
        "may_correct": event.kind == "counted" and Count.objects.filter(event=event).exists() and not was_undone(event),
    }
    if request.method != "POST":
        return page(request, "undo.html", context)
    if request.POST.get("at") and queued_of(request) is None:
        # Ten minutes by the server's clock, or by the tap on a phone without a signal; never by a time typed.
        return page(request, "undo.html", context, refusal=Refusal("nothing_to_undo"))
    answer = tell_here(request, undo, event_id=event.pk)
    if isinstance(answer, Refusal):
        return page(request, "undo.html", context, refusal=answer)
    return redirect("here_told", answer.event.uid)


def undo_of(request: HttpRequest) -> str:
    """The id of the news that led to this page (`?told=`), while it may be taken back."""
    uid = just_reported(request)
    event = event_here(request, uid) if uid else None
    return uid if event and may_undo(event, timezone.now()) else ""


def _step_id(event: Event) -> int:
    """The step that the news was of; that of its load, wherever that is now."""
    reported = event.data["told"]
    if event.kind == "load ended":
        return get_object_or_404(Load, pk=reported["load"]).step_id
    load = Load.objects.filter(uid=event.uid).first() if event.kind == "load started" else None
    return load.step_id if load else get_object_or_404(Step, pk=event.data.get("step_id")).pk
