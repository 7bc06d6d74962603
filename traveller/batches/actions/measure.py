"""A shop tells readings: what it measured, exactly as typed."""

from __future__ import annotations

from collections.abc import Sequence

from traveller.batches.proof.judge import Judging
from traveller.batches.proof.readings import ReadingTold, write_readings
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import step_locked
from traveller.batches.steps.states import begin
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record

KIND = "measured"


@action
def measure(*, event_context: EventContext, step_id: int, readings: Sequence[ReadingTold], note: str = "") -> Answer:
    """News. Values stay as typed, in the unit that each names; a reading of a load that nobody knows is refused."""
    reported = {"step": step_id, "readings": [reading.reported() for reading in readings], "note": note}
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    step = step_locked(step_id)
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
    step.save()
    elsewhere = write_readings(event, step, readings)
    judging = Judging(event_context)
    for one in (step, *elsewhere):
        judging.step(one)
    return Answer(event)
