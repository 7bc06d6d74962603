"""A batch is over when its pieces were made and none of them lies anywhere any more; news can open it again."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Exists, OuterRef

from traveller.batches.models import Batch, Step, StepState
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


def close_empty(lot_ids: Iterable[int], at: datetime) -> None:
    """Close the batches of lots of which nothing lies anywhere, unless pieces are still to be made."""
    still_making = Step.objects.filter(batch=OuterRef("pk"), operation__kind=OperationKind.MAKE).exclude(
        state=StepState.DONE
    )
    Batch.objects.filter(~Exists(still_making), lot__in=list(lot_ids), closed_at=None).update(closed_at=at)


def close_when_nothing_lies(batch: Batch, at: datetime) -> None:
    """The last piece may have gone before the making step was said to be done; or there never was a good one."""
    if batch.lot_id is not None:
        lying = Account.objects.filter(lot=batch.lot_id, condition__in=OPEN_CONDITIONS).exclude(balance=0)
        if not lying.exists():
            close_empty([batch.lot_id], at)
        return
    making = Step.objects.filter(batch=batch).exclude(operation__kind=OperationKind.PREPARE)
    if not making.exclude(state=StepState.DONE).exists():
        Batch.objects.filter(pk=batch.pk, closed_at=None).update(closed_at=at)
