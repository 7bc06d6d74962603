"""Pieces of several lots lie in one tote and cannot be told apart any more: a mixed lot with all of them as parents."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import uuid5

from traveller.batches.models import Batch
from traveller.batches.splitting.divide import copy_steps
from traveller.batches.steps.closing import review
from traveller.journal.models import Event, Subject
from traveller.journal.refusal import Refused
from traveller.journal.subjects import register
from traveller.ledger import genealogy, holds, lots
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Balances, Move, Place, post

ORIGIN = "mixed"
BEYOND = 1_000_000


def check(parents: Sequence[Lot]) -> list[Batch]:
    """The batches of lots that may be mixed (none, for material): lots of one part, on one routing."""
    if len({lot.pk for lot in parents}) < 2:
        raise Refused("mix_needs_two")
    if len({lot.part_id for lot in parents}) > 1:
        raise Refused("mix_other_part", parts=sorted({lot.part.title for lot in parents}))
    batches = list(Batch.objects.filter(lot__in=[lot.pk for lot in parents]).order_by("id"))
    if batches and (len(batches) != len(parents) or len({batch.routing_id for batch in batches}) > 1):
        raise Refused("mix_other_routing", part=parents[0].part.title)
    if any(batch.rerouted for batch in batches) and len({_way(batch) for batch in batches}) > 1:
        raise Refused("mix_other_routing", part=parents[0].part.title)
    return batches


def _way(batch: Batch) -> tuple[tuple[int, int], ...]:
    """Where its steps are done; a batch that begins later has fewer."""
    return tuple(batch.steps.order_by("number").values_list("number", "site"))


def first_step(place: Place) -> int:
    """The number from which on steps are still to be done; beyond every step when all are."""
    if place.condition in (Condition.IN_PROCESS, Condition.REWORK):
        return place.step
    return place.step + 1 if place.step else BEYOND


def mix(event: Event, parents: Sequence[Lot], batches: Sequence[Batch], taken: dict[Place, int]) -> Lot:
    """All that is `taken` (place by place, alike but for the lot) becomes one lot.

    It is held by what holds any parent, and expires with the first of them.
    """
    subject: Subject = register(uuid5(event.uid, ORIGIN), "batch" if batches else "lot")
    expiries = [lot.expires_on for lot in parents if lot.expires_on]
    expires_on = min(expiries, default=None)
    mixed = lots.create(event, parents[0].part, origin=ORIGIN, subject=subject, expires_on=expires_on)
    total = sum(taken.values())
    any_place = next(iter(taken))
    if batches:
        _make_batch(event, mixed, batches, total, first_step(any_place))
    there = Place(mixed.pk, any_place.site_id, any_place.condition, any_place.step)
    balances = Balances([lot.pk for lot in parents])
    moves: list[Move] = []
    for place, quantity in taken.items():
        moves += balances.transfer(place, place.become(Condition.MADE_INTO), quantity)
    moves.append(Move(there.become(Condition.MADE_FROM), there, total))
    post(event, moves)
    by_lot = {lot.pk: lot for lot in parents}
    uses = [genealogy.Use(by_lot[place.lot_id], quantity) for place, quantity in taken.items()]
    genealogy.link(event, mixed, uses)
    holds.inherit(event, mixed, by_lot)
    review(by_lot, event.happened_at)
    return mixed


def _make_batch(event: Event, mixed: Lot, batches: Sequence[Batch], total: int, number: int) -> None:
    """It goes on as one batch; the first of its parents stands for its past, and the gates ask all of them."""
    first = batches[0]
    dues = [batch.due_on for batch in batches if batch.due_on]
    child = Batch.objects.create(
        subject=mixed.subject,
        code=mixed.code,
        part=first.part,
        routing_id=first.routing_id,
        lot=mixed,
        wanted=total,
        start=total,
        destination_id=first.destination_id,
        due_on=min(dues, default=None),
        released_event=event,
        released_at=event.happened_at,
        parent=first,
        rerouted=any(batch.rerouted for batch in batches),
    )
    copy_steps(first, child, number)
