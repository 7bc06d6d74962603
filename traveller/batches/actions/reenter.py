"""Pieces set aside for rework go back to a stated step, apart from first entries."""

from __future__ import annotations

from traveller.batches.models import Step
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import lot_of, step_locked
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.ledger.models import Condition
from traveller.ledger.post import Balances, Place, post

KIND = "sent back to step"


@action
def reenter(*, event_context: EventContext, step_id: int, to_step: int, quantity: int) -> Answer:
    """From rework at `step_id` to rework before `to_step`, an earlier step at the same site."""
    reported = {"step": step_id, "to_step": to_step, "quantity": quantity}
    if before := earlier(event_context, KIND, reported):
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
        event_context=event_context,
        kind=KIND,
        subjects=[step.batch.subject],
        reported=reported,
        site_id=step.site_id,
        number=step.number,
    )
    lot = lot_of(step.batch, event)
    place = Place(lot.pk, step.site_id, Condition.REWORK, step.number)
    post(event, Balances([lot.pk]).transfer(place, place.become(Condition.REWORK, to_step), quantity))
    return Answer(event)
