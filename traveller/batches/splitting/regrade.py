"""A held lot becomes a lot of another part: what it is no good as, it may be good as."""

from __future__ import annotations

from uuid import uuid5

from traveller.batches.steps.closing import Closing
from traveller.journal.models import Event
from traveller.journal.refusal import Refused
from traveller.journal.subjects import register
from traveller.ledger import genealogy, holds, lots
from traveller.ledger.models import Condition, Hold, Lot
from traveller.ledger.post import Balances, Move, Place, post
from traveller.products.models import Part

# Lots of this origin were judged by a person: what failed as the one part does not stop them as the other.
ORIGIN = "regrade"
_LYING = (Condition.IN_PROCESS, Condition.REWORK, Condition.STOCK)


def other_part(hold: Hold, part_id: int | None) -> Part:
    """The part that the lot becomes: another one, counted in the same unit."""
    part = Part.objects.filter(pk=part_id).first() if part_id is not None else None
    if part is None or part.pk == hold.lot.part_id:
        raise Refused("regrade_needs_another_part", part=hold.lot.part.title)
    if part.unit != hold.lot.part.unit:
        raise Refused("regrade_other_unit", part=part.title, unit=part.unit, own=hold.lot.part.unit)
    return part


def regrade(event: Event, hold: Hold, part: Part) -> Lot:
    """All pieces of the lot that lie anywhere go to the shelf of where they lie, as a lot of `part`.

    Whoever calls has closed the hold already: what else holds the lot holds what becomes of it too.
    """
    balances = Balances([hold.lot_id])
    lying = {place: balance for place, balance in balances.places().items() if place.condition in _LYING}
    for place, balance in balances.places().items():
        if place.condition == Condition.ON_THE_ROAD:
            raise Refused("still_on_the_road", lot=hold.lot.code, quantity=balance, unit=hold.lot.part.unit)
    if not lying:
        raise Refused("nothing_there")
    subject = register(uuid5(event.uid, "regraded"), "lot")
    lot = lots.create(event, part, origin=ORIGIN, subject=subject, expires_on=hold.lot.expires_on)
    moves = []
    for place, balance in lying.items():
        shelf = Place(lot.pk, place.site_id, Condition.STOCK, 0)
        moves.append(Move(place, place.become(Condition.MADE_INTO), balance))
        moves.append(Move(shelf.become(Condition.MADE_FROM), shelf, balance))
    closing = Closing(balances, [hold.lot_id])
    balances.note(move for move in moves if move.source.lot_id == hold.lot_id)
    post(event, moves)
    genealogy.link(event, lot, [genealogy.Use(hold.lot, sum(lying.values()))])
    holds.inherit(event, lot, [hold.lot_id])
    closing.settle(event.happened_at)
    return lot
