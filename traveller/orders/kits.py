"""How many of each product can be assembled now, and where the next pieces of what limits it are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from sites.models import SiteKind
from traveller.batches.proof.stops import TAKEN_FROM
from traveller.batches.usable import STOPS_WORK, pieces_by, purposes_at_rest, stops
from traveller.ledger.models import Account, Condition
from traveller.orders.models import OrderLine
from traveller.products.frozen import operations_of
from traveller.products.models import Operation, OperationKind, Part
from traveller.products.queries import present_bill, present_routings
from traveller.rules.kits import KitShare, KitWish, allocate
from traveller.rules.purposes import Purpose

# Where a component's pieces are: at the bench, one step from it, two or more, on the road, or held.
_Ready = Literal["here", "one", "two", "road", "held"]
_LYING = (Condition.IN_PROCESS, Condition.REWORK, Condition.STOCK, Condition.ON_THE_ROAD)


@dataclass(frozen=True, slots=True)
class ComponentRow:
    """A component's pieces by readiness; those at the bench count whether or not a line has them reserved."""

    part: Part
    per_thousand: int
    pieces: dict[_Ready, int]


@dataclass(frozen=True, slots=True)
class KitRow:
    """A product on open orders: how many are still to be assembled, and how many kits are complete now."""

    part: Part
    site_id: int
    wanted: int
    kits: int
    limiting: Part | None
    components: tuple[ComponentRow, ...]


@dataclass(frozen=True, slots=True)
class _Product:
    part: Part
    site_id: int
    bill: dict[int, int]


def kits_now(*, on: date) -> list[KitRow]:
    """Products of open order lines, the one due first served first; a shared piece is counted once."""
    wanted: dict[int, int] = defaultdict(int)
    for line in OrderLine.objects.filter(order__closed_at=None).order_by("due_on", "order__number", "number"):
        wanted[line.part_id] += max(0, line.quantity - line.packed)
    products = _products([part_id for part_id, quantity in wanted.items() if quantity])
    components = {component for product in products for component in product.bill}
    ready = _readiness({*components, *wanted}, {product.site_id for product in products}, on)
    parts = Part.objects.defer("picture").in_bulk(components)
    shares = _allocate(products, wanted, ready)
    return [
        KitRow(
            part=product.part,
            site_id=product.site_id,
            wanted=_missing(product, wanted, ready),
            kits=share.kits,
            limiting=parts[int(share.limiting)] if share.limiting else None,
            components=tuple(
                ComponentRow(parts[component], per_thousand, dict(ready[product.site_id, component]))
                for component, per_thousand in product.bill.items()
            ),
        )
        for product, share in zip(products, shares, strict=True)
    ]


def free_here(part_ids: Iterable[int], site_id: int, *, on: date, purpose: Purpose) -> dict[int, int]:
    """By part: finished pieces at a site that may be used for a purpose; as many queries for many parts as for one."""
    lying = Account.objects.filter(TAKEN_FROM[purpose], lot__part__in=list(part_ids), site=site_id)
    rows = pieces_by(lying, stops(lying, purpose, on), ("lot__part_id",))
    return {row.key[0]: row.free for row in rows}


_ByReady = dict[_Ready, int]


def _missing(product: _Product, wanted: dict[int, int], ready: dict[tuple[int, int], _ByReady]) -> int:
    """Still to be assembled: ordered, not packed, and not standing finished at the bench."""
    return max(0, wanted[product.part.pk] - ready[product.site_id, product.part.pk].get("here", 0))


def _allocate(
    products: list[_Product], wanted: dict[int, int], ready: dict[tuple[int, int], _ByReady]
) -> list[KitShare]:
    """Each bench by itself, products in the order given."""
    found: dict[int, KitShare] = {}
    for site_id in {product.site_id for product in products}:
        here = [product for product in products if product.site_id == site_id]
        free = {
            str(component): ready[site_id, component].get("here", 0) for product in here for component in product.bill
        }
        wishes = [
            KitWish(
                str(product.part.pk),
                {str(component): per for component, per in product.bill.items()},
                _missing(product, wanted, ready),
            )
            for product in here
        ]
        for product, share in zip(here, allocate(free, wishes), strict=True):
            found[product.part.pk] = share
    return [found[product.part.pk] for product in products]


def _products(part_ids: list[int]) -> list[_Product]:
    """Those that are assembled at an own site from components, with what their steps there use."""
    present = present_routings().filter(part__in=part_ids)
    own: dict[int, dict[int, int]] = defaultdict(dict)
    for operation in Operation.objects.filter(routing__in=present.order_by(), site__kind=SiteKind.OWN):
        own[operation.routing_id][operation.number] = operation.site_id
    bills: dict[int, dict[int, int]] = defaultdict(dict)
    sites: dict[int, int] = {}
    for line in present_bill().filter(routing__part__in=part_ids).order_by("step", "id"):
        site_id, part_id = own[line.routing_id].get(line.step), line.routing.part_id
        if site_id is not None:
            sites.setdefault(part_id, site_id)
            bills[part_id][line.component_id] = bills[part_id].get(line.component_id, 0) + line.per_thousand
    parts = Part.objects.defer("picture").in_bulk(bills)
    return [_Product(parts[pk], sites[pk], bills[pk]) for pk in part_ids if pk in bills]


def _readiness(part_ids: Iterable[int], benches: Iterable[int], on: date) -> dict[tuple[int, int], _ByReady]:
    """(bench, part) -> pieces by how far they are from ready; what may not be used counts as held.

    Finished pieces are judged for what they wait for; of what is still worked at, holds and expiry only count, since
    its checks are still to come. Summed by the database: thousands of lots are a few rows where they lie alike.
    """
    ready: dict[tuple[int, int], _ByReady] = defaultdict(dict)
    lying = Account.objects.filter(lot__part__in=list(part_ids), condition__in=_LYING)
    stopped_lots = stops(lying, purposes_at_rest(part_ids), on)
    by = ("lot__part_id", "site_id", "condition", "step")
    rows = pieces_by(lying, stopped_lots, by)
    finished = [row for row in rows if row.key[-1] == 0]
    if len(finished) < len(rows):
        # How far it still is follows from the routing, which only unfinished pieces are asked for.
        finished += pieces_by(lying.filter(step__gt=0), stopped_lots, (*by, "lot__batch__routing_id"))
    for row in finished:
        part, site, condition, step, *routings = row.key
        routing = routings[0] if routings else None
        stopped = sum(n for code, n in row.stopped.items() if step == 0 or code in STOPS_WORK)
        for bench in benches:
            how = _how_far(site, condition, step, bench, routing)
            counts = ready[bench, part]
            counts[how] = counts.get(how, 0) + row.total - stopped
            if stopped:
                counts["held"] = counts.get("held", 0) + stopped
    return ready


def _how_far(site_id: int, condition: str, step: int, bench: int, routing_id: int | None) -> _Ready:
    if condition == Condition.ON_THE_ROAD:
        return "road"
    if step == 0:
        # Finished but elsewhere: it only has to be sent.
        return "here" if site_id == bench else "one"
    waiting = condition in (Condition.IN_PROCESS, Condition.REWORK)
    left = [
        operation
        for operation in (operations_of(routing_id) if routing_id else ())
        if operation.kind != OperationKind.PREPARE
        and (operation.number >= step if waiting else operation.number > step)
    ]
    return "one" if len(left) <= 1 else "two"
