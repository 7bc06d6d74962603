"""Where pieces of a batch may be taken from by hand, and what they still have to go through there."""

from __future__ import annotations

from traveller.ledger.models import Condition
from traveller.ledger.post import Place

WAITING = (Condition.IN_PROCESS, Condition.REWORK)
SEPARABLE = (*WAITING, Condition.STOCK)
# Beyond every step.
BEYOND = 1_000_000


def waits_for(place: Place) -> int:
    """The number from which on steps are still to be done; beyond every step when all are."""
    if place.condition in WAITING:
        return place.step
    return place.step + 1 if place.step else BEYOND
