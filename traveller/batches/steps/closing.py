"""A batch is over when its pieces were made and none of them lies anywhere any more; news can open it again."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet

from traveller.batches.models import Batch, Step, StepState
from traveller.dispatches.models import ConsignmentLine
from traveller.dispatches.queries import unsettled
from traveller.ledger.models import OWED, Account, Condition
from traveller.ledger.post import Balances
from traveller.products.models import OperationKind

# What is still to be done something with; what is owed to `unreported` keeps a batch open too.
OPEN_CONDITIONS = (
    Condition.IN_PROCESS,
    Condition.REWORK,
    Condition.STOCK,
    Condition.PACKED,
    Condition.ON_THE_ROAD,
    *OWED,
)


class Closing:
    """Made before an action's moves are planned, settled after its steps are saved: writes only on a change."""

    def __init__(self, balances: Balances, lot_ids: Iterable[int]) -> None:
        self._balances = balances
        self._before = {lot_id: self._is_empty(lot_id) for lot_id in lot_ids}

    def settle(self, at: datetime) -> None:
        empty = [lot_id for lot_id in self._before if self._is_empty(lot_id)]
        refilled = [lot_id for lot_id, was_empty in self._before.items() if was_empty and lot_id not in empty]
        if empty:
            close_empty(empty, at)
        if refilled:
            Batch.objects.filter(lot__in=refilled).exclude(closed_at=None).update(closed_at=None)

    def _is_empty(self, lot_id: int) -> bool:
        return not any(
            place.lot_id == lot_id and place.condition in OPEN_CONDITIONS for place in self._balances.places()
        )


def over() -> Q:
    """Batches that are over: made, and of their pieces none lies anywhere nor is missing without an explanation.

    Of one that never had a piece, every step is done.
    """
    lying = Account.objects.filter(lot=OuterRef("lot"), condition__in=OPEN_CONDITIONS).exclude(balance=0)
    steps = Step.objects.filter(batch=OuterRef("pk")).exclude(state=StepState.DONE)
    born = Q(lot__isnull=False) | ~Exists(steps.exclude(operation__kind=OperationKind.PREPARE))
    return ~Exists(lying) & ~Exists(steps.filter(operation__kind=OperationKind.MAKE)) & ~Exists(_missing()) & born


def close_empty(lot_ids: Iterable[int], at: datetime) -> None:
    """Close the batches of lots of which nothing lies anywhere, unless pieces are still to be made or to be found."""
    making = Step.objects.filter(batch=OuterRef("pk"), operation__kind=OperationKind.MAKE).exclude(state=StepState.DONE)
    rows = Batch.objects.filter(~Exists(making), ~Exists(_missing()), lot__in=list(lot_ids), closed_at=None)
    rows.update(closed_at=at)


def review(lot_ids: Iterable[int], at: datetime) -> None:
    """Close or reopen the batches of these lots by what is posted: for moves that another room has planned."""
    _review(Batch.objects.filter(lot__in=list(lot_ids)), at)


def review_batch(batch: Batch, at: datetime) -> None:
    """The last piece may have gone before the making step was said to be done; or there never was a good one."""
    _review(Batch.objects.filter(pk=batch.pk), at)


def _review(batches: QuerySet[Batch], at: datetime) -> None:
    for pk, closed_at, is_over in batches.order_by().annotate(over=over()).values_list("pk", "closed_at", "over"):
        if is_over != (closed_at is not None):
            Batch.objects.filter(pk=pk).update(closed_at=at if is_over else None)


def _missing() -> QuerySet[ConsignmentLine]:
    """Pieces that were sent and not received may be found yet, back on the sender's shelf."""
    return unsettled().filter(lot=OuterRef("lot"))
