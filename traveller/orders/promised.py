"""What batches were released for: how much of their finished pieces is promised, and what they bring beyond."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, Sum

from traveller.batches.models import Batch, Step, StepState
from traveller.ledger.models import Account, Condition, Link
from traveller.orders import reserved
from traveller.orders.models import BatchShare, Reservation
from traveller.products.models import OperationKind

_GONE = (Condition.MADE_INTO, Condition.PACKED, Condition.SOLD_TO)
_ALIVE = (Condition.IN_PROCESS, Condition.REWORK, Condition.STOCK, Condition.ON_THE_ROAD)


@dataclass(frozen=True, slots=True)
class Spare:
    """Pieces an open batch will still bring that no line has a share in."""

    batch_id: int
    code: str
    part_id: int
    quantity: int


@dataclass(frozen=True, slots=True)
class Promises:
    by_lot: Mapping[int, int]
    spare: tuple[Spare, ...]


@dataclass
class _Family:
    """A batch with all that was split off it: shares are on the first, pieces in any of them."""

    root: Batch
    lots: list[int]
    open: bool = False
    made: bool = True


def look(free_by_lot: Mapping[int, int], unproved_by_lot: Mapping[int, int], part_ids: set[int] | None) -> Promises:
    """`free_by_lot`: finished pieces of each lot that may be used and are not reserved.

    `unproved_by_lot`: finished pieces that wait for proof; they are still to come, as pieces under way are.
    """
    families = _families(list(free_by_lot), part_ids)
    lots = [lot for family in families for lot in family.lots]
    shares, waiting = _shares(families)
    gone, alive, stocked = _pieces(lots)
    by_reservation = _through_reservations(lots)
    by_lot: dict[int, int] = {}
    spare: list[Spare] = []
    for family in families:
        used = sum(gone[lot] for lot in family.lots)
        outside = sum(by_reservation[lot] for lot in family.lots)
        owed = max(0, shares[family.root.pk] - max(0, used - outside))
        owed = min(owed, waiting[family.root.pk])
        for lot in sorted(family.lots):
            part = min(owed, free_by_lot.get(lot, 0))
            if part:
                by_lot[lot] = part
                owed -= part
        waits = sum(unproved_by_lot.get(lot, 0) for lot in family.lots)
        to_come = max(0, family.root.wanted - used - sum(stocked[lot] for lot in family.lots) + waits)
        if family.made:
            # Nothing more will be born: no more can come than is on its way.
            to_come = min(to_come, sum(alive[lot] for lot in family.lots) + waits)
        if family.open and to_come > owed:
            spare.append(Spare(family.root.pk, family.root.code, family.root.part_id, to_come - owed))
    return Promises(by_lot, tuple(spare))


def _shares(families: Iterable[_Family]) -> tuple[Mapping[int, int], Mapping[int, int]]:
    """By first batch: all that was promised, and what of it an order still waits for."""
    shares: dict[int, int] = defaultdict(int)
    waiting: dict[int, int] = defaultdict(int)
    found = BatchShare.objects.filter(batch__in=[family.root.pk for family in families])
    for batch_id, quantity, closed_at in found.values_list("batch_id", "quantity", "line__order__closed_at"):
        shares[batch_id] += quantity
        # A closed order takes no more, even if it got less than its share.
        waiting[batch_id] += quantity if closed_at is None else 0
    return shares, waiting


def _families(lot_ids: list[int], part_ids: set[int] | None) -> list[_Family]:
    """Open batches and those whose pieces lie in stock, gathered under the batch they were split off."""
    wanted = Q(closed_at=None) | Q(lot_id__in=lot_ids)
    if part_ids is not None:
        wanted &= Q(part_id__in=part_ids)
    light = Batch.objects.only("code", "part_id", "lot_id", "parent_id", "wanted", "closed_at")
    batches = {batch.pk: batch for batch in light.filter(wanted).order_by("id")}
    # Generations of splits, not batches: few, and one query each.
    while missing := {b.parent_id for b in batches.values() if b.parent_id} - set(batches):
        batches.update({batch.pk: batch for batch in light.filter(pk__in=missing)})
    making = set(
        Step.objects.filter(batch__in=batches, operation__kind=OperationKind.MAKE)
        .exclude(state=StepState.DONE)
        .values_list("batch_id", flat=True)
    )
    families: dict[int, _Family] = {}
    for batch in batches.values():
        root = batch
        while root.parent_id:
            root = batches[root.parent_id]
        family = families.setdefault(root.pk, _Family(root, []))
        if batch.lot_id:
            family.lots.append(batch.lot_id)
        family.open = family.open or batch.closed_at is None
        family.made = family.made and batch.pk not in making
    return list(families.values())


def _pieces(lots: list[int]) -> tuple[dict[int, int], dict[int, int], dict[int, int]]:
    """By lot: pieces that went on (used, packed, sold), pieces still under way, finished pieces in stock."""
    gone: dict[int, int] = defaultdict(int)
    alive: dict[int, int] = defaultdict(int)
    stocked: dict[int, int] = defaultdict(int)
    # Plain values: of thousands of open lots every account is looked at.
    rows = Account.objects.filter(lot__in=lots).exclude(balance=0).order_by()
    for lot_id, condition, step, balance in rows.values_list("lot_id", "condition", "step", "balance"):
        if condition in _GONE:
            gone[lot_id] += balance
        elif condition in (Condition.STOCK, Condition.ON_THE_ROAD) and step == 0:
            stocked[lot_id] += balance
        elif condition in _ALIVE:
            alive[lot_id] += balance
    splits: Any = (
        Link.objects.filter(parent__in=lots, child__origin="split").values_list("parent").annotate(Sum("quantity"))
    )
    for lot, quantity in splits.order_by():
        # A split only renames pieces: they are counted where they lie now.
        gone[lot] -= quantity
    return gone, alive, stocked


def _through_reservations(lots: list[int]) -> dict[int, int]:
    """Finished pieces that went out through a reservation, not through a share."""
    left = {keep.row_id: keep.left for keep in reserved.kept(lot_ids=lots)}
    found: dict[int, int] = defaultdict(int)
    for pk, lot, quantity in Reservation.objects.filter(lot__in=lots).values_list("pk", "lot_id", "quantity"):
        found[lot] += quantity - left.get(pk, 0)
    return found
