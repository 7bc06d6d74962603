"""A batch with all that was split off it: shares are on the first, pieces in any of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, Sum

from traveller.batches.models import Batch, Step, StepState
from traveller.ledger.models import Account, Condition, Link
from traveller.orders import reserved
from traveller.orders.models import Reservation
from traveller.products.models import OperationKind

_ALIVE = (Condition.IN_PROCESS, Condition.REWORK, Condition.STOCK, Condition.ON_THE_ROAD)
_GONE = (Condition.MADE_INTO, Condition.PACKED, Condition.SOLD_TO)


@dataclass
class BatchFamily:
    """`open`: something of it is still to be done. `made`: nothing more of it will be born."""

    root: Batch
    lots: list[int]
    open: bool = False
    made: bool = True


def families_of(
    lot_ids: Collection[int], part_ids: set[int] | None, *, batch_ids: Collection[int] = ()
) -> list[BatchFamily]:
    """Open batches, those of these lots and these themselves, gathered under the batch they were split off.

    A constant number of queries, and one for each generation of splits.
    """
    wanted = Q(closed_at=None) | Q(lot_id__in=list(lot_ids)) | Q(pk__in=list(batch_ids))
    if part_ids is not None:
        wanted &= Q(part_id__in=part_ids)
    light = Batch.objects.only(
        "code", "part_id", "lot_id", "parent_id", "routing_id", "wanted", "closed_at", "due_on", "destination_id"
    )
    batches = {batch.pk: batch for batch in light.filter(wanted).order_by("id")}
    # Generations of splits, not batches: few, and one query each.
    while missing := {b.parent_id for b in batches.values() if b.parent_id} - set(batches):
        batches.update({batch.pk: batch for batch in light.filter(pk__in=missing)})
    making = set(
        Step.objects.filter(batch__in=batches, operation__kind=OperationKind.MAKE)
        .exclude(state=StepState.DONE)
        .values_list("batch_id", flat=True)
    )
    families: dict[int, BatchFamily] = {}
    for batch in batches.values():
        root = batch
        while root.parent_id:
            root = batches[root.parent_id]
        family = families.setdefault(root.pk, BatchFamily(root, []))
        if batch.lot_id:
            family.lots.append(batch.lot_id)
        family.open = family.open or batch.closed_at is None
        family.made = family.made and batch.pk not in making
    return list(families.values())


def went_on(lots: Iterable[int]) -> Mapping[int, int]:
    """By lot: pieces that were used, packed or sold; what a split only renamed is counted where it lies now."""
    ids = list(lots)
    gone: dict[int, int] = defaultdict(int)
    rows = Account.objects.filter(lot__in=ids, condition__in=_GONE).exclude(balance=0).order_by()
    for lot_id, balance in rows.values_list("lot_id", "balance"):
        gone[lot_id] += balance
    splits: Any = (
        Link.objects.filter(parent__in=ids, child__origin="split").values_list("parent").annotate(Sum("quantity"))
    )
    for lot_id, quantity in splits.order_by():
        gone[lot_id] -= quantity
    return gone


def pieces_alive(lots: Iterable[int]) -> Mapping[int, int]:
    """By lot: good pieces that lie somewhere, at work or finished, or are on the road; not those in cartons."""
    rows = Account.objects.filter(lot__in=list(lots), condition__in=_ALIVE, balance__gt=0).order_by()
    return dict(rows.values_list("lot").annotate(Sum("balance")))


def still_to_make(family: BatchFamily, alive: int, gone: int) -> int:
    """Pieces that a batch may still make of what it was released for; `alive` lie somewhere, `gone` went on."""
    if family.made or not family.open:
        return 0
    return max(0, family.root.wanted - alive - gone)


def through_reservations(lots: Iterable[int]) -> Mapping[int, int]:
    """By lot: finished pieces that went out because they were reserved, not through a share in the batch."""
    ids = list(lots)
    left = {keep.row_id: keep.left for keep in reserved.kept(lot_ids=ids)}
    found: dict[int, int] = defaultdict(int)
    for pk, lot, quantity in Reservation.objects.filter(lot__in=ids).values_list("pk", "lot_id", "quantity"):
        found[lot] += quantity - left.get(pk, 0)
    return found
