"""Where pieces of a batch may be taken from by hand, and what they still have to go through there."""

from __future__ import annotations

from typing import Any

from traveller.batches.models import Batch
from traveller.batches.steps.fetch import batch_locked
from traveller.journal.refusal import Refused
from traveller.ledger.models import Condition
from traveller.ledger.post import Balances, Place

WAITING = (Condition.IN_PROCESS, Condition.REWORK)
SEPARABLE = (*WAITING, Condition.STOCK)
# Beyond every step.
BEYOND = 1_000_000


def waits_for(place: Place) -> int:
    """The number from which on steps are still to be done; beyond every step when all are."""
    if place.condition in WAITING:
        return place.step
    return place.step + 1 if place.step else BEYOND


def reported_part(batch_id: int, place: Place, quantity: int, reason: str) -> dict[str, Any]:
    """What the journal keeps of pieces that are set apart."""
    return {
        "batch": batch_id,
        "site": place.site_id,
        "condition": place.condition,
        "step": place.step,
        "quantity": quantity,
        "reason": reason,
    }


def part_locked(batch_id: int, place: Place, quantity: int) -> tuple[Batch, int]:
    """The batch, locked, and how many lie there; refused unless the quantity is some, not all, of them."""
    batch = batch_locked(batch_id)
    if batch.lot_id is None or place.lot_id != batch.lot_id:
        raise Refused("nothing_there")
    if place.condition not in SEPARABLE:
        raise Refused("not_on_a_shelf", condition=place.condition)
    there = Balances([batch.lot_id]).at(place)
    if not 0 < quantity < there:
        raise Refused("not_a_part", there=there, wanted=quantity, unit=batch.part.unit)
    return batch, there
