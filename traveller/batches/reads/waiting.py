"""How many pieces wait at a step: one answer for the shop's list, "is this it?", the step's page and its count.

What stands in a load that is still in does not wait: it is named apart.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from traveller.batches.models import Step
from traveller.journal.rows import run_sql
from traveller.ledger.models import Condition

_LYING = (
    "SELECT condition, balance FROM ledger_account "
    "WHERE lot_id = %s AND site_id = %s AND step = %s AND condition IN (%s, %s)"
)
_INSIDE = (
    "SELECT l.step_id, l.number, l.place, l.quantity - COALESCE("
    "(SELECT SUM(c.good + c.scrap + c.rework + c.samples) FROM batches_count c WHERE c.load_id = l.id), 0) "
    "FROM batches_load l WHERE l.ended_at IS NULL AND l.struck_by_id IS NULL AND l.quantity > 0 "
    "AND l.step_id IN ({marks}) ORDER BY l.step_id, l.number"
)


@dataclass(frozen=True, slots=True)
class Inside:
    """Pieces of one load that is still in and of which nobody has counted these."""

    load: int
    place: str
    pieces: int


@dataclass(frozen=True, slots=True)
class Waiting:
    """Pieces before a step: `lying` in all, first entries; `rework` apart; `loads` are those still in."""

    lying: int = 0
    rework: int = 0
    loads: Sequence[Inside] = ()

    @property
    def inside(self) -> int:
        """Pieces in loads; never more than lie there, whatever was told of the loads."""
        return min(max(0, self.lying), sum(row.pieces for row in self.loads))

    @property
    def here(self) -> int:
        """Pieces that wait to be worked on."""
        return self.lying - self.inside


def waiting_at(step: Step) -> Waiting:
    """What waits at one step."""
    if step.batch.lot_id is None:
        return Waiting()
    waits = (Condition.IN_PROCESS.value, Condition.REWORK.value)
    found = dict(run_sql(_LYING, [step.batch.lot_id, step.site_id, step.number, *waits]))
    loads = inside_of([step.pk]).get(step.pk, ())
    return Waiting(found.get(Condition.IN_PROCESS, 0), found.get(Condition.REWORK, 0), loads)


def inside_of(step_ids: Iterable[int]) -> dict[int, list[Inside]]:
    """The loads that are still in, by the id of their step, with the pieces that nobody has counted."""
    ids = list(step_ids)
    if not ids:
        return {}
    found: dict[int, list[Inside]] = {}
    for step_id, number, place, pieces in run_sql(_INSIDE.format(marks=", ".join(["%s"] * len(ids))), ids):
        if pieces > 0:
            found.setdefault(step_id, []).append(Inside(number, place, int(pieces)))
    return found
