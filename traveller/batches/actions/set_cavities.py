"""A cavity of the mould is blocked in mid-run, or free again: from now on a shot brings another number of pieces."""

from __future__ import annotations

from traveller.batches.proof.judge import Judging
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import step_locked
from traveller.batches.steps.news import record_at
from traveller.batches.steps.states import begin
from traveller.journal.deed import deed
from traveller.journal.record import earlier
from traveller.journal.refusal import Refused
from traveller.journal.stamp import Stamp

KIND = "cavities changed"


@deed
def set_cavities(*, stamp: Stamp, step_id: int, open_cavities: int, shots: int = 0, reason: str = "") -> Answer:
    """`shots`: made since the last count, with the cavities that were open till now; counted with the next count.

    The first-off is asked again: which cavities run is part of what was approved.
    """
    told = {"step": step_id, "open_cavities": open_cavities, "shots": shots, "reason": reason}
    if before := earlier(stamp, KIND, told):
        return Answer(before, repeated=True)
    step = step_locked(step_id)
    most = step.operation.cavities
    if not most:
        raise Refused("no_cavities", step=step.number, verb=step.operation.verb)
    if not 0 < open_cavities <= most:
        raise Refused("cavities_out_of_range", most=most, wanted=open_cavities)
    if shots < 0:
        raise Refused("not_a_quantity", found=shots)
    event = record_at(step, stamp=stamp, kind=KIND, told=told, before=step.open_cavities or most)
    begin(step, stamp.at)
    step.open_cavities = open_cavities
    step.shots += shots
    step.save(update_fields=["state", "started_at", "open_cavities", "shots"])
    Judging(stamp).step(step)
    return Answer(event)
