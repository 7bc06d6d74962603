"""A shop tells readings: what it measured, exactly as typed."""

from __future__ import annotations

from collections.abc import Sequence

from traveller.batches.proof.judge import Judging
from traveller.batches.proof.readings import ReadingTold, write_readings
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import step_locked
from traveller.batches.steps.states import begin
from traveller.journal.deed import deed
from traveller.journal.record import earlier, record
from traveller.journal.stamp import Stamp

KIND = "measured"


@deed
def measure(*, stamp: Stamp, step_id: int, readings: Sequence[ReadingTold], note: str = "") -> Answer:
    """News. Values stay as typed, in the unit that each names; a reading of a load that nobody knows is refused."""
    told = {"step": step_id, "readings": [reading.told() for reading in readings], "note": note}
    if before := earlier(stamp, KIND, told):
        return Answer(before, repeated=True)
    step = step_locked(step_id)
    event = record(
        stamp=stamp,
        kind=KIND,
        subjects=[step.batch.subject],
        told=told,
        site_id=step.site_id,
        number=step.number,
        step_id=step.pk,
    )
    begin(step, stamp.at)
    step.save()
    elsewhere = write_readings(event, step, readings)
    judging = Judging(stamp)
    for one in (step, *elsewhere):
        judging.step(one)
    return Answer(event)
