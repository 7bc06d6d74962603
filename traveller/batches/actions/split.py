"""Some of a batch's pieces are treated differently from now on: they become a batch of their own, free as they were."""

from __future__ import annotations

from traveller.batches.models import Load
from traveller.batches.splitting.divide import divide
from traveller.batches.splitting.places import part_locked, reported_part, waits_for
from traveller.batches.steps.answer import Answer
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused, refuse_without
from traveller.ledger.post import Place

KIND = "split"


@action
def split(*, event_context: EventContext, batch_id: int, place: Place, quantity: int, reason: str) -> Answer:
    """The child has its own code and traveller, and what holds its parent holds it too.

    Sending a part ahead is no split: then the same lot lies in two places.
    """
    reported = reported_part(batch_id, place, quantity, reason)
    if before := earlier(event_context, KIND, reported):
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
        event_context=event_context,
        kind=KIND,
        subjects=[batch.subject],
        reported=reported,
        site_id=place.site_id,
        first_step=first_step,
    )
    divide(event, batch, place, quantity, first_step=first_step)
    return Answer(event)
