"""A cavity of the mould is blocked in mid-run, or free again: from now on a shot brings another number of pieces."""

from __future__ import annotations

from traveller.batches.proof.judge import Judging
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import step_locked
from traveller.batches.steps.news import record_at
from traveller.batches.steps.states import begin
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier
from traveller.journal.refusal import Refused

KIND = "cavities changed"


@action
def set_cavities(
    *, event_context: EventContext, step_id: int, open_cavities: int, shots: int = 0, reason: str = ""
) -> Answer:
    """`shots`: made since the last count, with the cavities that were open till now; counted with the next count.

    The first piece is asked again: which cavities run is part of what was approved.
    """
    reported = {"step": step_id, "open_cavities": open_cavities, "shots": shots, "reason": reason}
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    step = step_locked(step_id)
    most = step.operation.cavities
    if not most:
        raise Refused("no_cavities", step=step.number, verb=step.operation.verb)
    if not 0 < open_cavities <= most:
        raise Refused("cavities_out_of_range", most=most, wanted=open_cavities)
    if shots < 0:
        raise Refused("not_a_quantity", found=shots)
    event = record_at(
        step, event_context=event_context, kind=KIND, reported=reported, before=step.open_cavities or most
    )
    begin(step, event_context.at)
    step.open_cavities = open_cavities
    step.shots += shots
    step.save(update_fields=["state", "started_at", "open_cavities", "shots"])
    Judging(event_context).step(step)
    return Answer(event)
