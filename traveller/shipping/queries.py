"""Reads that the packer's pages need."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from django.db.models import QuerySet

from sites.models import Site
from traveller.batches.proof.stops import TAKEN_FROM
from traveller.batches.steps.consume import due
from traveller.batches.usable import pieces_by, stops
from traveller.ledger.models import Account
from traveller.orders.models import OrderLine
from traveller.products.models import Part
from traveller.products.queries import present_bill
from traveller.shipping.models import Carton, CartonLot


class PackShelf(NamedTuple):
    """A lot in stock at the bench; `why` it may not be packed: the code of its stop, or nothing.

    A plain row: thousands may lie there.
    """

    lot_id: int
    code: str
    part_id: int
    expires_on: date | None
    balance: int
    why: str = ""


@dataclass(frozen=True, slots=True)
class PartToPack:
    """A part of the kit: `needed` for all that is left of the line, `here` what lines due before it leave it."""

    part: Part
    needed: int
    here: int
    stopped: int

    @property
    def missing(self) -> int:
        return max(0, self.needed - self.here)


@dataclass(frozen=True, slots=True)
class LineToPack:
    """An order line with something left to pack; `now`: kits that are complete, the line due first served first."""

    line: OrderLine
    left: int
    now: int
    parts: tuple[PartToPack, ...]

    @property
    def short(self) -> tuple[PartToPack, ...]:
        return tuple(part for part in self.parts if part.missing)


def lines_to_pack(site: Site, *, on: date) -> list[LineToPack]:
    """Lines of open orders that are not packed in full; a piece that two lines want is counted once."""
    rows = OrderLine.objects.filter(order__closed_at=None).select_related("order", "part").defer("part__picture")
    lines = [row for row in rows.order_by("due_on", "order__number", "number") if row.packed < row.quantity]
    bills = bills_of(line.part_id for line in lines)
    wanted = {part.pk for bill in bills.values() for part, _ in bill} | {line.part_id for line in lines}
    usable: dict[int, int] = defaultdict(int)
    stopped: dict[int, int] = defaultdict(int)
    lying = _lying(wanted, site)
    for here in pieces_by(lying, stops(lying, "pack", on), ("lot__part_id",)):
        (part_id,) = here.key
        usable[part_id], stopped[part_id] = here.free, here.total - here.free
    piles = _Piles(dict(usable), dict(usable), stopped)
    return [_line(line, bills[line.part_id], piles) for line in lines]


@dataclass(frozen=True, slots=True)
class _Piles:
    """Sound pieces by part as lines take their turn: what kits that are complete leave, and what wishes leave."""

    left: dict[int, int]
    unclaimed: dict[int, int]
    stopped: Mapping[int, int]


def _line(line: OrderLine, bill: list[tuple[Part, int]], piles: _Piles) -> LineToPack:
    """What is shown can be packed, line after line, and not a piece more: a line keeps only what its kits take.

    What it lacks is told as if it kept all that it wishes for.
    """
    left = line.quantity - line.packed
    kit = [(line.part, 1000), *bill]
    # What is added is rounded up once over all that the line packs: before + free pieces reach so many kits.
    there = {part.pk: piles.left.get(part.pk, 0) for part, _ in kit}
    reach = [(there[part.pk] + due(per, line.packed)) * 1000 // per - line.packed if per else left for part, per in kit]
    now = max(0, min(left, *reach))
    parts = []
    for part, per in kit:
        needed = due(per, line.quantity) - due(per, line.packed)
        takes = due(per, line.packed + now) - due(per, line.packed)
        here = max(takes, min(needed, piles.unclaimed.get(part.pk, 0)))
        parts.append(PartToPack(part, needed, here, piles.stopped.get(part.pk, 0)))
        piles.left[part.pk] = there[part.pk] - takes
        piles.unclaimed[part.pk] = max(0, piles.unclaimed.get(part.pk, 0) - needed)
    return LineToPack(line, left, now, tuple(parts))


def bills_of(part_ids: Iterable[int]) -> dict[int, list[tuple[Part, int]]]:
    """What is added at packing to a thousand of each of these parts; one query."""
    found: dict[int, list[tuple[Part, int]]] = {pk: [] for pk in part_ids}
    rows = (
        present_bill().filter(routing__part__in=found, step=0).select_related("component").defer("component__picture")
    )
    for row in rows.order_by("id"):
        found[row.routing.part_id].append((row.component, row.per_thousand))
    return found


def shelves(part_ids: Iterable[int], site: Site, *, on: date) -> list[PackShelf]:
    """Finished lots of these parts in stock here, first expired first; the number of queries does not grow."""
    lying = _lying(part_ids, site)
    stopped = stops(lying, "pack", on)
    rows = lying.values_list("lot_id", "lot__code", "lot__part_id", "lot__expires_on", "balance")
    found = [PackShelf(*row, stopped[row[0]].code if row[0] in stopped else "") for row in rows.order_by()]
    return sorted(found, key=lambda shelf: (shelf.expires_on or date.max, shelf.lot_id))


def _lying(part_ids: Iterable[int], site: Site) -> QuerySet[Account]:
    """Accounts at a site from which the packer takes."""
    return Account.objects.filter(TAKEN_FROM["pack"], lot__part__in=list(part_ids), site=site, balance__gt=0)


def cartons_here(site: Site) -> QuerySet[Carton]:
    """Cartons of this bench that were not opened again."""
    return (
        Carton.objects.filter(site=site, opened_event=None)
        .select_related("line__order", "line__part", "shipment")
        .defer("line__part__picture")
        .order_by("line__order__number", "id")
    )


def cartons_waiting(site: Site) -> QuerySet[Carton]:
    """Packed and not shipped, order by order."""
    return cartons_here(site).filter(shipment=None)


def cartons_with(lot_ids: Collection[int]) -> list[CartonLot]:
    """What of these lots is in cartons, packed or shipped: each quantity once. What a carton that was opened again held
    lies in stock, and is not among them."""
    rows = CartonLot.objects.filter(lot__in=lot_ids, carton__opened_event=None)
    rows = rows.select_related("carton__line__order", "carton__shipment", "carton__site", "lot__part")
    return list(rows.defer("lot__part__picture").order_by("carton_id", "id"))
