"""Some of a batch's pieces are treated differently from now on: they become a batch of their own, free as they were."""

from __future__ import annotations

from traveller.batches.models import Load
from traveller.batches.splitting.divide import divide
from traveller.batches.splitting.places import SEPARABLE, waits_for
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import batch_locked
from traveller.journal.deed import deed
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.journal.stamp import Stamp
from traveller.ledger.post import Balances, Place

KIND = "split"


@deed
def split(*, stamp: Stamp, batch_id: int, place: Place, quantity: int, reason: str) -> Answer:
    """The child has its own code and traveller, and what holds its parent holds it too.

    Sending a part ahead is no split: then the same lot lies in two places.
    """
    told = {
        "batch": batch_id,
        "site": place.site_id,
        "condition": place.condition,
        "step": place.step,
        "quantity": quantity,
        "reason": reason,
    }
    before = earlier(stamp, KIND, told)
    if before:
        return Answer(before, repeated=True)
    if not reason.strip():
        raise Refused("reason_needed")
    batch = batch_locked(batch_id)
    if batch.lot_id is None or place.lot_id != batch.lot_id:
        raise Refused("nothing_there")
    if place.condition not in SEPARABLE:
        raise Refused("not_on_a_shelf", condition=place.condition)
    there = Balances([batch.lot_id]).at(place)
    if not 0 < quantity < there:
        raise Refused("not_a_part", there=there, wanted=quantity)
    inside = sum(
        Load.objects.filter(step__batch=batch, step__number=place.step, ended_at=None, struck_by=None).values_list(
            "quantity", flat=True
        )
    )
    if place.step and quantity > there - inside:
        raise Refused("load_is_in", there=inside)
    first_step = waits_for(place)
    event = record(
        stamp=stamp,
        kind=KIND,
        subjects=[batch.subject],
        told=told,
        site_id=place.site_id,
        first_step=first_step,
    )
    divide(event, batch, place, quantity, first_step=first_step)
    return Answer(event)
