"""What is left of a batch at a site is moved by hand: it joins another batch there, or goes to where it is wanted."""

from __future__ import annotations

from typing import Any

from sites.models import Site
from traveller.batches.models import Batch, Load, Step
from traveller.batches.splitting.places import SEPARABLE, WAITING, waits_for
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.closing import review
from traveller.batches.steps.fetch import batch_locked, lock_batches_of, lot_of, next_step_after
from traveller.batches.steps.states import move
from traveller.batches.usable import after_step, refuse_unusable
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused, refuse_without
from traveller.ledger import genealogy, holds
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Balances, Place, post

KIND = "rest moved"


@action
def move_rest(
    *,
    event_context: EventContext,
    batch_id: int,
    place: Place,
    reason: str,
    to_batch: int | None = None,
    to_site: int | None = None,
) -> Answer:
    """All that lies at the place goes. `to_batch`: it joins that batch where it lies, for the same steps; `to_site`:
    it was carried there without papers, for its next step or to its destination, as sending would have allowed."""
    reported = {
        "batch": batch_id,
        "site": place.site_id,
        "condition": place.condition,
        "step": place.step,
        "reason": reason,
        "to_batch": to_batch,
        "to_site": to_site,
    }
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    refuse_without(reason)
    if (to_batch is None) == (to_site is None):
        raise Refused("say_where_to")
    batch = _locked(batch_id, to_batch)
    lot = batch.lot
    if lot is None or place.lot_id != lot.pk:
        raise Refused("nothing_there")
    if place.condition not in SEPARABLE:
        raise Refused("not_on_a_shelf", condition=place.condition)
    quantity = Balances([lot.pk]).at(place)
    if quantity <= 0:
        raise Refused("nothing_there")
    load = Load.objects.filter(step__batch=batch, step__number=place.step, ended_at=None, struck_by=None).first()
    if load and place.condition != Condition.STOCK:
        raise Refused("load_is_in", there=load.quantity)
    if to_batch is not None:
        return Answer(_join(event_context, reported, batch, lot, place, quantity, batch_locked(to_batch)))
    return Answer(_carry(event_context, reported, batch, lot, place, quantity, to_site or 0))


def _locked(batch_id: int, to_batch: int | None) -> Batch:
    """Both batches in one order, so that two movers never wait for each other."""
    for pk in sorted({batch_id, to_batch or batch_id}):
        batch_locked(pk)
    return batch_locked(batch_id)


def _join(
    event_context: EventContext,
    reported: dict[str, Any],
    batch: Batch,
    lot: Lot,
    place: Place,
    quantity: int,
    other: Batch,
) -> Event:
    """The pieces become the other batch's: held by what held them, and no better proved than they were."""
    if other.pk == batch.pk or other.part_id != batch.part_id or other.routing_id != batch.routing_id:
        raise Refused("other_routing", batch=other.code)
    if other.lot_id and other.lot_id in genealogy.ancestors(lot.pk):
        raise Refused("own_ancestor", batch=other.code)
    waits_at = _waits_at(other, place)
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[batch.subject, other.subject],
        reported=reported,
        site_id=place.site_id,
        quantity=quantity,
        first_step=waits_for(place),
        # A step of the other batch that was said to be done has something to do again.
        step_id=waits_at.pk if waits_at else None,
    )
    if waits_at:
        move(waits_at, "again", None)
        waits_at.save(update_fields=["state", "done_at"])
    into = lot_of(other, event)
    balances = Balances([lot.pk, into.pk])
    there = Place(into.pk, place.site_id, place.condition, place.step)
    moves = balances.transfer(place, place.become(Condition.MADE_INTO), quantity)
    back = balances.transfer(there, there.become(Condition.MADE_FROM), -quantity)
    post(event, [*moves, *back])
    genealogy.link(event, into, [genealogy.Use(lot, quantity)])
    holds.inherit(event, into, [lot.pk])
    expiries = [day for day in (lot.expires_on, into.expires_on) if day]
    if expiries and into.expires_on != min(expiries):
        Lot.objects.filter(pk=into.pk).update(expires_on=min(expiries))
    review([lot.pk, into.pk], event.happened_at)
    return event


def _waits_at(other: Batch, place: Place) -> Step | None:
    """The step of the other batch that these pieces will wait for; it may have begun only after that one."""
    following = next_step_after(other, place.step) if place.condition == Condition.STOCK and place.step else None
    number = place.step if place.condition in WAITING else following.number if following else 0
    if not number:
        return None
    step = other.steps.filter(number=number).first()
    if step is None:
        raise Refused("other_routing", batch=other.code)
    return step


def _carry(
    event_context: EventContext,
    reported: dict[str, Any],
    batch: Batch,
    lot: Lot,
    place: Place,
    quantity: int,
    to_site: int,
) -> Event:
    """As if sent and received at once: the same proof and the same holds stand in the way."""
    if place.condition != Condition.STOCK:
        raise Refused("not_on_a_shelf", condition=place.condition)
    if to_site == place.site_id:
        raise Refused("same_site")
    following = next_step_after(batch, place.step) if place.step else None
    if following is not None and following.site_id != to_site:
        raise Refused("wrong_destination", batch=batch.code, site=following.site.name, verb=following.verb)
    on = event_context.at.astimezone(Site.objects.get(pk=place.site_id).zone).date()
    refuse_unusable([after_step(lot.pk, place.step)], "send", on)
    lock_batches_of([lot.pk])
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[batch.subject],
        reported=reported,
        site_id=place.site_id,
        quantity=quantity,
        first_step=waits_for(place),
    )
    waiting = Condition.IN_PROCESS if following else Condition.STOCK
    target = Place(lot.pk, to_site, waiting, following.number if following else 0)
    post(event, Balances([lot.pk]).transfer(place, target, quantity))
    review([lot.pk], event.happened_at)
    return event
