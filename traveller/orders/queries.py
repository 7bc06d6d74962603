"""Reads that pages need. Each costs a constant number of queries, however many orders there are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch, Q, QuerySet, Sum

from traveller.batches.models import Batch
from traveller.ledger.models import Lot
from traveller.orders import reserved
from traveller.orders.models import Need, Order, OrderLine, Purchase
from traveller.products.models import Part


@dataclass(frozen=True, slots=True)
class LineRow:
    """A line as far as it has come, in pieces. `to_follow`: ordered and not shipped yet."""

    line: OrderLine

    @property
    def wanted(self) -> int:
        return self.line.quantity

    @property
    def released(self) -> int:
        return self.line.released

    @property
    def packed(self) -> int:
        """In cartons, shipped ones included."""
        return self.line.packed

    @property
    def shipped(self) -> int:
        return self.line.shipped

    @property
    def to_follow(self) -> int:
        return max(0, self.line.quantity - self.line.shipped)


@dataclass(frozen=True, slots=True)
class OrderOverview:
    order: Order
    lines: tuple[LineRow, ...]

    @property
    def due_on(self) -> date | None:
        """The earliest day of a line that is not shipped in full."""
        return min((row.line.due_on for row in self.lines if row.to_follow), default=None)


def orders(*, closed: bool = False) -> list[OrderOverview]:
    """Open orders (or closed ones) with their lines; two queries."""
    lines = OrderLine.objects.select_related("part").defer("part__picture").order_by("number")
    rows = (
        Order.objects.filter(closed_at__isnull=not closed)
        .select_related("subject")
        .prefetch_related(Prefetch("lines", lines))
        .order_by("number")
    )
    return [OrderOverview(order, tuple(LineRow(line) for line in order.lines.all())) for order in rows]


def unreleased_lines() -> list[OrderLine]:
    """Lines of open orders of which something is still to be planned, due first."""
    lines = OrderLine.objects.filter(order__closed_at=None).select_related("order", "part").defer("part__picture")
    rows = lines.order_by("due_on", "order__number", "number")
    return [line for line in rows if line.quantity > max(line.released, line.packed)]


def batches_of(order_id: int) -> QuerySet[Batch]:
    """Batches with a share for the order, those of its components included, and what was split off them."""
    mine = Q(shares__line__order=order_id)
    for generation in ("parent", "parent__parent"):
        mine |= Q(**{f"{generation}__shares__line__order": order_id})
    return Batch.objects.filter(mine).distinct().select_related("part", "destination", "lot", "parent").order_by("id")


@dataclass(frozen=True, slots=True)
class ReservationRow:
    line: OrderLine
    lot: Lot
    site_id: int
    quantity: int
    left: int


def reservations(*, line_ids: Iterable[int] | None = None) -> list[ReservationRow]:
    """What is kept for whom and not used yet."""
    keeps = reserved.kept(line_ids=line_ids)
    lines = OrderLine.objects.select_related("order").in_bulk({keep.line_id for keep in keeps})
    lots = Lot.objects.select_related("part").defer("part__picture").in_bulk({keep.lot_id for keep in keeps})
    return [
        ReservationRow(lines[keep.line_id], lots[keep.lot_id], keep.site_id, keep.quantity, keep.left) for keep in keeps
    ]


@dataclass(frozen=True, slots=True)
class ToBuy:
    """A bought part that released lines wait for; `to_buy` is not on order either."""

    part: Part
    waited_for: int
    on_order: int
    needed_on: date | None

    @property
    def to_buy(self) -> int:
        return max(0, self.waited_for - self.on_order)


def still_to_buy() -> list[ToBuy]:
    """Needs of released lines against open purchases; three queries."""
    waited: dict[int, int] = defaultdict(int)
    first: dict[int, date | None] = {}
    for part_id, left, needed_on in (
        Need.objects.filter(left__gt=0, line__order__closed_at=None)
        .order_by("needed_on", "id")
        .values_list("part_id", "left", "needed_on")
    ):
        waited[part_id] += left
        first.setdefault(part_id, needed_on)
    on_order: dict[int, int] = {
        row["part_id"]: row["quantity__sum"] - row["received__sum"]
        for row in Purchase.objects.filter(closed_at=None, part__in=waited)
        .order_by()
        .values("part_id")
        .annotate(Sum("quantity"), Sum("received"))
    }
    parts = Part.objects.defer("picture").in_bulk(waited)
    return [
        ToBuy(parts[part_id], quantity, max(0, on_order.get(part_id, 0)), first[part_id])
        for part_id, quantity in waited.items()
    ]


def open_purchases() -> QuerySet[Purchase]:
    return (
        Purchase.objects.filter(closed_at=None)
        .select_related("part", "supplier", "deliver_to")
        .order_by("due_on", "id")
    )
