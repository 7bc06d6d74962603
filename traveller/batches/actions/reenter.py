"""Pieces set aside for rework go back to a stated step, apart from first entries."""

from __future__ import annotations

from traveller.batches.models import Step
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import lot_of, step_locked
from traveller.journal.deed import deed
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.journal.stamp import Stamp
from traveller.ledger.models import Condition
from traveller.ledger.post import Balances, Place, post

KIND = "sent back to step"


@deed
def reenter(*, stamp: Stamp, step_id: int, to_step: int, quantity: int) -> Answer:
    """From rework at `step_id` to rework before `to_step`, an earlier step at the same site."""
    told = {"step": step_id, "to_step": to_step, "quantity": quantity}
    if before := earlier(stamp, KIND, told):
        return Answer(before, repeated=True)
    step = step_locked(step_id)
    target = Step.objects.filter(batch=step.batch, number=to_step).first()
    if target is None or target.number > step.number:
        raise Refused("no_such_step", step=to_step)
    if target.site_id != step.site_id:
        raise Refused("send_back_first", lot=step.batch.code, step=to_step, site=target.site.name)
    if quantity <= 0:
        raise Refused("not_a_quantity", found=quantity)
    event = record(
        stamp=stamp,
        kind=KIND,
        subjects=[step.batch.subject],
        told=told,
        site_id=step.site_id,
        number=step.number,
    )
    lot = lot_of(step.batch, event)
    place = Place(lot.pk, step.site_id, Condition.REWORK, step.number)
    post(event, Balances([lot.pk]).transfer(place, place.become(Condition.REWORK, to_step), quantity))
    return Answer(event)
