"""From counted figures to moves: where a step's pieces come from and where they land."""

from __future__ import annotations

from dataclasses import dataclass

from traveller.batches.models import Step
from traveller.batches.steps.fetch import next_step
from traveller.ledger.models import Condition
from traveller.ledger.post import Balances, Move, Place
from traveller.products.models import OperationKind


@dataclass(frozen=True, slots=True)
class Figures:
    """Signed pieces of one report, or of the difference that a correction makes."""

    good: int = 0
    scrap: int = 0
    rework: int = 0
    samples: int = 0

    @property
    def total(self) -> int:
        return self.good + self.scrap + self.rework + self.samples

    def minus(self, other: Figures) -> Figures:
        return Figures(
            self.good - other.good,
            self.scrap - other.scrap,
            self.rework - other.rework,
            self.samples - other.samples,
        )


def source(step: Step, lot_id: int, *, again: bool) -> Place:
    """Where the pieces that this step counts lay before."""
    if again:
        return Place(lot_id, step.site_id, Condition.REWORK, step.number)
    if step.operation.kind == OperationKind.MAKE:
        return Place(lot_id, step.site_id, Condition.MADE_FROM, step.number)
    return Place(lot_id, step.site_id, Condition.IN_PROCESS, step.number)


def landing(step: Step, lot_id: int, *, again: bool = False) -> Place:
    """Where its good pieces go: before the next step here, else into stock, to be sent or used.

    Reworked pieces stay apart (`rework` at the next step) until they are through this site.
    """
    following = next_step(step)
    if following is None:
        return Place(lot_id, step.site_id, Condition.STOCK, 0)
    if following.site_id != step.site_id:
        return Place(lot_id, step.site_id, Condition.STOCK, step.number)
    waiting = Condition.REWORK if again else Condition.IN_PROCESS
    return Place(lot_id, step.site_id, waiting, following.number)


def count_moves(balances: Balances, step: Step, lot_id: int, figures: Figures, *, again: bool) -> list[Move]:
    """The moves of a report, or of a correction's difference (what is no longer there becomes unexplained)."""
    came_from = source(step, lot_id, again=again)
    beyond = {Condition.MADE_FROM: None, Condition.REWORK: Condition.UNREPORTED_REWORK}.get(
        Condition(came_from.condition), Condition.UNREPORTED
    )
    goes_to = {
        "good": landing(step, lot_id, again=again),
        "scrap": came_from.become(Condition.SCRAP),
        "rework": came_from.become(Condition.REWORK),
        "samples": came_from.become(Condition.SAMPLES),
    }
    moves: list[Move] = []
    # What is taken back goes first, so that the same pieces can be told anew.
    for name, place in sorted(goes_to.items(), key=lambda item: getattr(figures, item[0])):
        quantity = getattr(figures, name)
        if quantity < 0:
            moves += balances.transfer(place, came_from, -quantity, beyond=Condition.UNEXPLAINED)
        elif quantity > 0 and place != came_from:
            moves += balances.transfer(came_from, place, quantity, beyond=beyond)
    return moves
