"""What became of the pieces at each step: in = good + scrap + rework + samples + still here + unexplained.

What a decision took from before a step, or what was set apart as a batch of its own, is told beside it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Q, Sum

from traveller.batches.models import Batch, Step
from traveller.ledger.models import Account, Condition, Posting
from traveller.products.models import OperationKind
from traveller.rules.yields import first_pass_yield

# Pieces that wait for a step: those that lie there, less those counted before they were told to have come.
_WAITING = (Condition.IN_PROCESS, Condition.UNREPORTED)
_SET_APART = ("judged", "part held", "over tolerance", "mixed", "split", "recombined", "rest moved")
_COUNTS = ("counted", "count corrected", "undone")


@dataclass(frozen=True, slots=True)
class StepAccount:
    """One step's pieces; `again_*` came out of rework, `here` is still before the step and may be less than none
    while an earlier step has not told its own."""

    step: Step
    arrived: int
    here: int
    unexplained: int
    set_apart: int
    decided: int
    in_rework: int

    @property
    def counted(self) -> int:
        return self.step.good + self.step.scrap + self.step.rework + self.step.samples

    @property
    def first_pass(self) -> Fraction | None:
        """Share of first entries that passed at once, samples left out; None before anything was counted."""
        entered = self.counted - self.step.samples
        return first_pass_yield(entered, self.step.scrap, self.step.rework) if entered > 0 else None

    @property
    def left_over(self) -> int:
        """What the law leaves over; anything but 0 is a fault of the books."""
        known = self.counted + self.here + self.unexplained + self.set_apart + self.decided
        return self.arrived - known


def step_accounts(batch: Batch, steps: Iterable[Step]) -> list[StepAccount]:
    """The account of each step; three queries for the whole batch. `steps` come with their operations."""
    rows = list(steps)
    here: dict[int, int] = defaultdict(int)
    rework: dict[int, int] = defaultdict(int)
    came: dict[int, int] = defaultdict(int)
    went: dict[tuple[int, str], int] = defaultdict(int)
    if batch.lot_id:
        for number, condition, balance in Account.objects.filter(
            lot=batch.lot_id, condition__in=[*_WAITING, Condition.REWORK]
        ).values_list("step", "condition", "balance"):
            (rework if condition == Condition.REWORK else here)[number] += balance
        _trace(batch, {step.pk: step.number for step in rows}, came, went)
    return [_account(step, here, rework, came, went) for step in rows]


def _trace(batch: Batch, own: dict[int, int], came: dict[int, int], went: dict[tuple[int, str], int]) -> None:
    """What came to wait for each step, and what went from there by other ways than its counting.

    A load that was counted here and split off since is corrected here, while its pieces lie in the child's lot:
    what then waits again is set apart with them, and has come to the child.
    """
    apart = Batch.objects.filter(Q(parent=batch) | Q(parent__parent=batch)).values_list("lot_id", flat=True)
    postings = Posting.objects.filter(account__lot__in=[batch.lot_id, *apart], account__condition__in=_WAITING)
    keys = ("account__lot", "account__step", "event__kind", "event__data__step_id", "event__data__what")
    sums = postings.order_by().values(*keys).annotate(
        net=Sum("quantity"), less=Sum("quantity", filter=Q(quantity__lt=0))
    )  # fmt: skip
    for row in sums:
        number, kind, less = row["account__step"], row["event__kind"], row["less"] or 0
        # The step's own counting: its good, scrap, rework and samples say the same.
        counting = kind in _COUNTS and own.get(row["event__data__step_id"]) == number
        if row["account__lot"] != batch.lot_id:
            if counting:
                went[number, "judged"] += row["net"]
        elif row["event__data__what"] == "step done":
            # It was not done after all: what could not be found waits again.
            went[number, "step done"] -= row["net"]
        elif kind in ("step done", "decided", *_SET_APART):
            went[number, kind] -= less
            came[number] += row["net"] - less
        elif kind == "written off":
            went[number, "decided"] -= less
            came[number] += row["net"] - less
        elif kind == "unexplained settled":
            # Found again: it waits here as before, and is missing no more.
            went[number, "step done"] -= row["net"]
        elif not counting:
            came[number] += row["net"]


def _account(
    step: Step,
    here: dict[int, int],
    rework: dict[int, int],
    came: dict[int, int],
    went: dict[tuple[int, str], int],
) -> StepAccount:
    number = step.number
    counted = step.good + step.scrap + step.rework + step.samples
    # What making counts is born there; elsewhere it came from somewhere.
    arrived = counted if step.operation.kind == OperationKind.MAKE else came[number]
    return StepAccount(
        step=step,
        arrived=arrived,
        here=here[number],
        unexplained=went[number, "step done"],
        set_apart=sum(went[number, kind] for kind in _SET_APART),
        decided=went[number, "decided"],
        in_rework=rework[number],
    )
