"""Is a step said to be done far below what its plan, or what is still on its way to it, lets expect?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from traveller.batches.models import Step, StepState
from traveller.ledger.models import Account, Condition
from traveller.products.models import OperationKind
from traveller.rules.far_below import far_below
from traveller.rules.yields import MILLION


@dataclass(frozen=True, slots=True)
class ShortOfPlan:
    """Pieces planned at a step, and those recorded there: so few that somebody should be asked whether it is all."""

    planned: int
    recorded: int


def said_of_plan(step: Step, is_all: bool, *, good: int = 0, through: int = 0, lost: int = 0) -> dict[str, Any]:
    """For the journal, of a step that is done now far below plan: its figures, and whether somebody was asked and said
    that it is all; nothing where it isn't. The pieces as in `short_of_plan`."""
    short = short_of_plan(step, good=good, through=through, lost=lost)
    return {"short": {"planned": short.planned, "recorded": short.recorded, "said": is_all}} if short else {}


def short_of_plan(step: Step, *, good: int = 0, through: int = 0, lost: int = 0) -> ShortOfPlan | None:
    """What a step lacks if it were done now; None where that is about what was planned.

    `good` and `through`: pieces of a count that is not recorded yet, good ones and all of them; `lost`: those that came
    and cannot be found, which explains them. Where pieces are made the good ones are compared with what the batch was
    started for at the step's yield. Later what has come through is compared with itself and all that is still on its
    way here: what was scrapped before, split off or lost is no longer expected.
    """
    if step.operation.kind == OperationKind.PREPARE:
        return None
    if step.operation.kind == OperationKind.MAKE:
        made = step.good + step.again_good + good
        expected = made + _waiting(step, (Condition.REWORK,), step.number)
        if far_below(expected, step.batch.start, step.operation.yield_ppm):
            return ShortOfPlan(step.batch.start, made)
        return None
    recorded = step.good + step.scrap + step.rework + step.samples + through
    waits = max(0, _waiting(step, (Condition.IN_PROCESS,), step.number) - through)
    planned = recorded + still_to_come(step) + max(waits, lost)
    return ShortOfPlan(planned, recorded) if far_below(recorded + lost, planned) else None


def still_to_come(step: Step) -> int:
    """Pieces of the batch that are on their way to this step, at the planned yields of those between."""
    rows = Step.objects.filter(batch=step.batch_id, number__lt=step.number).select_related("operation")
    before = list(rows.order_by("number"))
    waits = _on_their_way(step)
    for row in before:
        if row.operation.kind == OperationKind.MAKE and row.state != StepState.DONE:
            made = row.good + row.scrap + row.rework + row.samples
            waits.append((row.number, max(0, step.batch.start - made)))
    return sum(_through(pieces, [row for row in before if row.number >= number]) for number, pieces in waits)


def _on_their_way(step: Step) -> list[tuple[int, int]]:
    """Piles of the batch before this step: from which step number on they have still to go through, and the pieces."""
    if step.batch.lot_id is None:
        return []
    found = []
    waiting = (Condition.IN_PROCESS, Condition.REWORK)
    rows = Account.objects.filter(lot=step.batch.lot_id, balance__gt=0, step__gt=0, step__lte=step.number)
    for condition, number, balance in rows.values_list("condition", "step", "balance"):
        if condition == Condition.ON_THE_ROAD or (condition in waiting and number < step.number):
            found.append((number, balance))
        elif condition == Condition.STOCK and number < step.number:
            # On a shelf, done with that step.
            found.append((number + 1, balance))
    return found


def _through(pieces: int, steps: list[Step]) -> int:
    """So many of these come out of these steps, rounded down: what may not come is not missed."""
    for row in steps:
        if row.operation.kind != OperationKind.PREPARE:
            pieces = pieces * row.operation.yield_ppm // MILLION
    return pieces


def _waiting(step: Step, conditions: tuple[str, ...], number: int) -> int:
    if step.batch.lot_id is None:
        return 0
    rows = Account.objects.filter(
        lot=step.batch.lot_id, site=step.site_id, step=number, condition__in=conditions, balance__gt=0
    )
    return sum(rows.values_list("balance", flat=True))
