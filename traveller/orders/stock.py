"""What lies in stock and how much of it is free: usable, and neither reserved nor promised to a line."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from django.db.models import F

from traveller.batches.proof.stops import Stop
from traveller.batches.usable import purposes_at_rest, stops
from traveller.dispatches.models import ConsignmentLine
from traveller.ledger.models import Account, Condition
from traveller.orders import promised, reserved
from traveller.orders.reserved import KeptFor


@dataclass(frozen=True, slots=True)
class Shelf:
    """A lot at a site; held + expired + unproved + reserved + promised + free = balance. `coming`: on the road to it.

    `stop`: why it may not be used, if so.
    """

    lot_id: int
    code: str
    part_id: int
    site_id: int
    balance: int
    expires_on: date | None
    held: int = 0
    expired: int = 0
    unproved: int = 0
    reserved: int = 0
    promised: int = 0
    coming: bool = False
    stop: Stop | None = None

    @property
    def free(self) -> int:
        return self.balance - self.held - self.expired - self.unproved - self.reserved - self.promised


@dataclass(frozen=True)
class Stock:
    """All shelves, first expired first, and what open batches will still bring beyond their promises."""

    shelves: tuple[Shelf, ...]
    spare: tuple[promised.Spare, ...]
    kept: tuple[KeptFor, ...] = field(default=())

    def free_of(self, part_id: int) -> int:
        return sum(shelf.free for shelf in self.shelves if shelf.part_id == part_id)


def look(on: date, *, part_ids: Iterable[int] | None = None) -> Stock:
    """Read everything, for all parts or some; the number of queries does not grow with the stock."""
    rows = _rows(None if part_ids is None else set(part_ids))
    lots = {row.lot_id for row in rows}
    stopped = _stopped({row.part_id for row in rows}, lots, on)
    keeps = reserved.kept(lot_ids=lots)
    by_lot: dict[int, list[Shelf]] = defaultdict(list)
    for row in rows:
        by_lot[row.lot_id].append(_judged(row, stopped.get(row.lot_id)))
    for lot_id, shelves in by_lot.items():
        by_lot[lot_id] = _keep(shelves, [keep for keep in keeps if keep.lot_id == lot_id])
    promises = promised.look(*_open_pieces(by_lot), None if part_ids is None else set(part_ids))
    for lot_id, quantity in promises.by_lot.items():
        by_lot[lot_id] = _promise(by_lot[lot_id], quantity)
    every = [shelf for shelves in by_lot.values() for shelf in shelves]
    return Stock(tuple(sorted(every, key=_first_expired)), promises.spare, tuple(keeps))


def _open_pieces(by_lot: Mapping[int, list[Shelf]]) -> tuple[dict[int, int], dict[int, int]]:
    """By lot: pieces that are free, and those that wait for proof."""
    free = {lot: sum(shelf.free for shelf in shelves) for lot, shelves in by_lot.items()}
    return free, {lot: sum(shelf.unproved for shelf in shelves) for lot, shelves in by_lot.items()}


def _first_expired(shelf: Shelf) -> tuple[date, int, bool, int]:
    return (shelf.expires_on or date.max, shelf.lot_id, shelf.coming, shelf.site_id)


def _rows(part_ids: set[int] | None) -> list[Shelf]:
    """Balances of stock with all steps done, and what is on the road to stock."""
    accounts: Any = Account.objects.filter(condition=Condition.STOCK, step=0, balance__gt=0)
    coming: Any = ConsignmentLine.objects.filter(closed=False, to_step=0).annotate(rest=F("sent") - F("received"))
    if part_ids is not None:
        accounts = accounts.filter(lot__part_id__in=part_ids)
        coming = coming.filter(lot__part_id__in=part_ids)
    lot = ("lot_id", "lot__code", "lot__part_id")
    lying = accounts.order_by("id").values_list(*lot, "site_id", "balance", "lot__expires_on")
    on_the_road = (
        coming.filter(rest__gt=0)
        .order_by("id")
        .values_list(*lot, "consignment__destination_id", "rest", "lot__expires_on")
    )
    return [*(Shelf(*row) for row in lying), *(replace(Shelf(*row), coming=True) for row in on_the_road)]


def _stopped(part_ids: Iterable[int], lot_ids: set[int], on: date) -> dict[int, Stop]:
    """Stops of lots, each judged for what finished pieces of its part wait for."""
    return stops(Account.objects.filter(lot__in=lot_ids), purposes_at_rest(part_ids), on)


def _judged(shelf: Shelf, stop: Stop | None) -> Shelf:
    """All of a stopped lot counts under what stops it: held, expired, or something of it not proved."""
    if stop is None:
        return shelf
    if stop.code == "held":
        return replace(shelf, stop=stop, held=shelf.balance)
    if stop.code == "expired":
        return replace(shelf, stop=stop, expired=shelf.balance)
    return replace(shelf, stop=stop, unproved=shelf.balance)


def _keep(shelves: list[Shelf], keeps: list[KeptFor]) -> list[Shelf]:
    """Take what is kept from its own site first, then, since goods travel, from wherever the lot lies."""
    for keep in keeps:
        left = keep.left
        for index in sorted(range(len(shelves)), key=lambda i: shelves[i].site_id != keep.site_id):
            part = min(left, shelves[index].free)
            shelves[index] = replace(shelves[index], reserved=shelves[index].reserved + part)
            left -= part
    return shelves


def _promise(shelves: list[Shelf], quantity: int) -> list[Shelf]:
    for index, shelf in enumerate(shelves):
        part = min(quantity, shelf.free)
        shelves[index] = replace(shelf, promised=part)
        quantity -= part
    return shelves
