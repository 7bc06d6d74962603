"""A shop says that it starts a step: taken as news when it already did, refused as a request while blocked."""

from __future__ import annotations

from traveller.batches.proof.first_piece import asked_of
from traveller.batches.proof.judge import Judging
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import step_locked
from traveller.batches.steps.states import begin
from traveller.batches.usable import usable_to_start
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record

KIND = "step started"


@action
def start_step(
    *, event_context: EventContext, step_id: int, already: bool = False, open_cavities: int | None = None
) -> Answer:
    """`already`: the shop did start; then it is news, and what blocks the step is shown, not enforced."""
    reported = {"step": step_id, "already": already, "open_cavities": open_cavities}
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    step = step_locked(step_id)
    if not already:
        stop = usable_to_start([step], event_context.at.astimezone(step.site.zone).date())[step.pk]
        if stop is not None:
            raise stop.refused()
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[step.batch.subject],
        reported=reported,
        site_id=step.site_id,
        number=step.number,
        step_id=step.pk,
    )
    begin(step, event_context.at)
    if open_cavities is not None:
        step.open_cavities = open_cavities
    step.save()
    if asked_of(step.operation_id):
        # A first piece that waits is to be seen before a single piece is counted.
        Judging(event_context).step(step)
    return Answer(event)
