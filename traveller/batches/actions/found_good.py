"""Pieces told as scrap turn out to be good: they come back to the step that scrapped them, and are asked again."""

from __future__ import annotations

from traveller.batches.models import Step
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.closing import review_batch
from traveller.batches.steps.fetch import step_locked
from traveller.batches.steps.news import record_at
from traveller.batches.steps.states import move
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier
from traveller.journal.refusal import Refused, refuse_without
from traveller.ledger.models import Condition
from traveller.ledger.post import Balances, Place, post

KIND = "scrap found good"


def scrap_at(step: Step) -> int:
    """Pieces that this step's site holds as scrap of it."""
    if step.batch.lot_id is None:
        return 0
    return Balances([step.batch.lot_id]).at(_scrap(step, step.batch.lot_id))


@action
def found_good(*, event_context: EventContext, step_id: int, quantity: int, reason: str) -> Answer:
    """They wait in rework at the step: counted there again, apart from first entries, with its tests.

    The scrap that was told stays told, so that the yield of the first pass is what it was.
    """
    reported = {"step": step_id, "quantity": quantity, "reason": reason}
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    refuse_without(reason)
    step = step_locked(step_id)
    lot_id = step.batch.lot_id
    there = scrap_at(step)
    if lot_id is None or not there:
        raise Refused("no_scrap_there")
    if not 0 < quantity <= there:
        raise Refused("more_than_scrap", there=there, wanted=quantity, unit=step.batch.part.unit)
    event = record_at(step, event_context=event_context, kind=KIND, reported=reported)
    place = _scrap(step, lot_id)
    post(event, Balances([lot_id]).transfer(place, place.become(Condition.REWORK), quantity))
    # A step that was said to be done has something to do again.
    move(step, "again", None)
    step.save(update_fields=["state", "done_at"])
    review_batch(step.batch, event_context.at)
    return Answer(event)


def _scrap(step: Step, lot_id: int) -> Place:
    return Place(lot_id, step.site_id, Condition.SCRAP, step.number)
