"""Goods that nobody will get back are written off where they lay, with a reason: they are scrap from then on."""

from __future__ import annotations

from traveller.batches.splitting.places import SEPARABLE
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.closing import review
from traveller.batches.steps.fetch import lock_batches_of
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused, refuse_without
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Balances, Place, post

KIND = "written off"


@action
def write_off(*, event_context: EventContext, place: Place, quantity: int, reason: str) -> Answer:
    """Also of lots that were bought: material given free of charge that a closed shop still had."""
    reported = {
        "lot": place.lot_id,
        "site": place.site_id,
        "condition": place.condition,
        "step": place.step,
        "quantity": quantity,
        "reason": reason,
    }
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    refuse_without(reason)
    if place.condition not in SEPARABLE:
        raise Refused("not_on_a_shelf", condition=place.condition)
    lock_batches_of([place.lot_id])
    lot = Lot.objects.select_related("subject", "part").get(pk=place.lot_id)
    balances = Balances([lot.pk])
    there = balances.at(place)
    if not 0 < quantity <= there:
        raise Refused(
            "short", lot=lot.code, part=lot.part.title, unit=lot.part.unit, condition=place.condition, there=there,
            wanted=quantity,
        )  # fmt: skip
    event = record(
        event_context=event_context, kind=KIND, subjects=[lot.subject_id], reported=reported, site_id=place.site_id
    )
    post(event, balances.transfer(place, place.become(Condition.SCRAP), quantity))
    review([lot.pk], event_context.at)
    return Answer(event)
