"""What batches were released for: how much of their finished pieces is promised, and what they bring beyond."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from traveller.ledger.models import Account, Condition
from traveller.orders.families import BatchFamily, families_of, through_reservations, went_on
from traveller.orders.models import BatchShare

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


def look(free_by_lot: Mapping[int, int], unproved_by_lot: Mapping[int, int], part_ids: set[int] | None) -> Promises:
    """`free_by_lot`: finished pieces of each lot that may be used and are not reserved.

    `unproved_by_lot`: finished pieces that wait for proof; they are still to come, as pieces under way are.
    """
    families = families_of(free_by_lot.keys(), part_ids)
    lots = [lot for family in families for lot in family.lots]
    shares, waiting = _shares(families)
    gone = went_on(lots)
    alive, stocked = _pieces(lots)
    by_reservation = through_reservations(lots)
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


def _shares(families: Iterable[BatchFamily]) -> tuple[Mapping[int, int], Mapping[int, int]]:
    """By first batch: all that was promised, and what of it an order still waits for."""
    shares: dict[int, int] = defaultdict(int)
    waiting: dict[int, int] = defaultdict(int)
    found = BatchShare.objects.filter(batch__in=[family.root.pk for family in families])
    for batch_id, quantity, closed_at in found.values_list("batch_id", "quantity", "line__order__closed_at"):
        shares[batch_id] += quantity
        # A closed order takes no more, even if it got less than its share.
        waiting[batch_id] += quantity if closed_at is None else 0
    return shares, waiting


def _pieces(lots: list[int]) -> tuple[dict[int, int], dict[int, int]]:
    """By lot: pieces still under way, and finished pieces in stock."""
    alive: dict[int, int] = defaultdict(int)
    stocked: dict[int, int] = defaultdict(int)
    # Plain values: of thousands of open lots every account is looked at.
    rows = Account.objects.filter(lot__in=lots, condition__in=_ALIVE).exclude(balance=0).order_by()
    for lot_id, condition, step, balance in rows.values_list("lot_id", "condition", "step", "balance"):
        if condition in (Condition.STOCK, Condition.ON_THE_ROAD) and step == 0:
            stocked[lot_id] += balance
        else:
            alive[lot_id] += balance
    return alive, stocked
