"""A shop takes back a problem that it has just reported: what it had held is free again, unless something else holds
it."""

from __future__ import annotations

from datetime import datetime

from traveller.batches.actions.undo import WITHIN
from traveller.batches.steps.answer import Answer
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.ledger import holds
from traveller.ledger.models import Hold
from traveller.ledger.post import lock_lots

KIND = "problem taken back"
_PROBLEM = "problem reported"


@action
def take_back_problem(*, event_context: EventContext, event_id: int) -> Answer:
    """Strike a problem of one's own site within ten minutes of its recording, while nobody has decided on it.

    What was held says so to everybody since: who takes it back is in the record, and the hold stays there, closed.
    """
    problem = Event.objects.get(pk=event_id)
    reported = {"event": str(problem.uid)}
    if before := earlier(event_context, KIND, reported) or Event.objects.filter(corrects=problem, kind=KIND).first():
        return Answer(before, repeated=True)
    if problem.kind != _PROBLEM or problem.site_id is None or problem.site_id != event_context.actor.site_id:
        raise Refused("nothing_to_undo")
    if event_context.at - problem.recorded_at > WITHIN:
        raise Refused("problem_too_old", minutes=int(WITHIN.total_seconds() // 60))
    opened = Hold.objects.filter(opened_event=problem, root=None).select_related("lot")
    lock_lots(sorted(opened.values_list("lot_id", flat=True)))
    rows = list(opened.order_by("id"))
    if any(hold.closed_at is not None or hold.disposition for hold in rows):
        raise Refused("problem_decided")
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[hold.lot.subject_id for hold in rows],
        reported=reported,
        site_id=problem.site_id,
        corrects=problem,
        closes=[hold.pk for hold in rows],
    )
    for hold in rows:
        holds.close_hold(event, hold, disposition=holds.UNDONE, reason="")
    return Answer(event)


def may_take_back(problem: Event, at: datetime) -> bool:
    """Is there a button for it? Whether somebody has decided is looked at when it is pressed."""
    return (
        problem.kind == _PROBLEM
        and at - problem.recorded_at <= WITHIN
        and not Event.objects.filter(corrects=problem, kind=KIND).exists()
    )
