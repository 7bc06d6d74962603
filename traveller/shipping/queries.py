"""Reads that the packer's pages need."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from sites.models import Site
from traveller.batches.models import Batch
from traveller.batches.proof import gates
from traveller.batches.steps.consume import due
from traveller.ledger.models import Account, Condition, Hold, Lot
from traveller.orders.models import OrderLine
from traveller.products.models import Part
from traveller.products.queries import present_bill
from traveller.shipping.models import Carton


@dataclass(frozen=True, slots=True)
class PackShelf:
    """A lot in stock at the bench; `why` it may not be packed: held, not_proved, expired, or nothing."""

    lot: Lot
    balance: int
    why: str = ""


@dataclass(frozen=True, slots=True)
class PartToPack:
    """A part of the kit: `needed` for all that is left of the line, `here` what its turn leaves it of what is sound."""

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
    free: dict[int, int] = defaultdict(int)
    stopped: dict[int, int] = defaultdict(int)
    for shelf in shelves(wanted, site, on=on):
        (stopped if shelf.why else free)[shelf.lot.part_id] += shelf.balance
    return [_line(line, bills[line.part_id], free, stopped) for line in lines]


def _line(line: OrderLine, bill: list[tuple[Part, int]], free: dict[int, int], stopped: dict[int, int]) -> LineToPack:
    left = line.quantity - line.packed
    kit = [(line.part, 1000), *bill]
    # What is added is rounded up once over all that the line packs: before + free pieces reach so many kits.
    reach = [(free[part.pk] + due(per, line.packed)) * 1000 // per - line.packed if per else left for part, per in kit]
    now = max(0, min(left, *reach))
    parts = []
    for part, per in kit:
        needed = due(per, line.quantity) - due(per, line.packed)
        parts.append(PartToPack(part, needed, min(needed, free[part.pk]), stopped[part.pk]))
        free[part.pk] -= min(free[part.pk], needed)
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
    accounts = list(
        Account.objects.filter(
            lot__part__in=list(part_ids), site=site, condition=Condition.STOCK, step=0, balance__gt=0
        )
        .select_related("lot__part")
        .defer("lot__part__picture")
        .order_by("id")
    )
    lots = [account.lot_id for account in accounts]
    held = set(Hold.objects.filter(closed_at=None, lot__in=lots).values_list("lot_id", flat=True))
    batches = list(Batch.objects.filter(lot__in=lots))
    closed = gates.closed_among(batches, "packing")
    unproved = {batch.lot_id for batch in batches if batch.pk in closed}
    found = []
    for account in accounts:
        lot = account.lot
        expired = lot.expires_on is not None and lot.expires_on < on
        why = "held" if lot.pk in held else "not_proved" if lot.pk in unproved else "expired" if expired else ""
        found.append(PackShelf(lot, account.balance, why))
    return sorted(found, key=lambda shelf: (shelf.lot.expires_on or date.max, shelf.lot.pk))


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
