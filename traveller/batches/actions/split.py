"""Some of a batch's pieces are treated differently from now on: they become a batch of their own, free as they were."""

from __future__ import annotations

from traveller.batches.models import Load
from traveller.batches.splitting.divide import divide
from traveller.batches.splitting.places import part_locked, told_part, waits_for
from traveller.batches.steps.answer import Answer
from traveller.journal.deed import deed
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused, refuse_without
from traveller.journal.stamp import Stamp
from traveller.ledger.post import Place

KIND = "split"


@deed
def split(*, stamp: Stamp, batch_id: int, place: Place, quantity: int, reason: str) -> Answer:
    """The child has its own code and traveller, and what holds its parent holds it too.

    Sending a part ahead is no split: then the same lot lies in two places.
    """
    told = told_part(batch_id, place, quantity, reason)
    if before := earlier(stamp, KIND, told):
        return Answer(before, repeated=True)
    refuse_without(reason)
    batch, there = part_locked(batch_id, place, quantity)
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
