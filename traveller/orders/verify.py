"""Do released quantities, purchases and needs follow from the journal?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from traveller.journal.models import Event
from traveller.journal.verify import Difference, readable, reading, safely
from traveller.orders.models import Need, OrderLine, Purchase, Reservation

ROOM = "orders"


def differences() -> Iterator[Difference]:
    yield from safely(ROOM, "order lines", _lines())
    yield from safely(ROOM, "purchases", _purchases())
    yield from safely(ROOM, "needs", _needs())
    yield from safely(ROOM, "reservations", _reservations())


def _lines() -> Iterator[Difference]:
    """Quantity as last entered, released as last released or promised."""
    ordered: dict[tuple[str, int], int] = {}
    released: dict[int, int] = defaultdict(int)
    faults: list[Difference] = []
    for event in readable(Event.objects.filter(kind__in=("order entered", "released", "adopted"))):
        reported = event.data["told"]
        with reading(event, ROOM, faults):
            if event.kind == "order entered":
                ordered.update({(reported["number"], line["number"]): line["quantity"] for line in reported["lines"]})
            elif event.kind == "released":
                released.update({int(pk): quantity for pk, quantity in event.data.get("released", {}).items()})
            elif reported["line"] is not None:
                released[reported["line"]] += event.data["promised"]
    yield from faults
    for line in OrderLine.objects.select_related("order").order_by("id"):
        thing = f"order {line.order.number}, line {line.number}"
        entered = ordered.get((line.order.number, line.number), line.quantity)
        if line.quantity != entered:
            yield Difference(ROOM, thing, "quantity", str(line.quantity), str(entered))
        if line.released != released[line.pk]:
            yield Difference(ROOM, thing, "released", str(line.released), str(released[line.pk]))


def _purchases() -> Iterator[Difference]:
    received: dict[int, int] = defaultdict(int)
    last: set[int] = set()
    faults: list[Difference] = []
    for event in readable(Event.objects.filter(kind="delivered")):
        reported = event.data["told"]
        with reading(event, ROOM, faults):
            if reported["purchase"] is not None:
                received[reported["purchase"]] += reported["quantity"]
                if reported["final"]:
                    last.add(reported["purchase"])
    yield from faults
    for row in Purchase.objects.order_by("id"):
        thing = f"purchase {row.code}"
        if row.received != received[row.pk]:
            yield Difference(ROOM, thing, "received", str(row.received), str(received[row.pk]))
        closed = row.pk in last or received[row.pk] >= row.quantity
        if (row.closed_at is not None) != closed:
            yield Difference(ROOM, thing, "closed", str(row.closed_at), "closed" if closed else "open")


def _needs() -> Iterator[Difference]:
    """What deliveries were kept for a need; a closed order waits for nothing."""
    kept: dict[int, int] = defaultdict(int)
    faults: list[Difference] = []
    for event in readable(Event.objects.filter(kind="delivered")):
        with reading(event, ROOM, faults):
            for need_id, quantity in event.data["keeps"]:
                kept[need_id] += quantity
    yield from faults
    for need in Need.objects.select_related("line__order", "part").order_by("id"):
        left = 0 if need.line.order.closed_at else need.quantity - kept[need.pk]
        if need.left != left:
            thing = f"order {need.line.order.number}, line {need.line.number}, need of {need.part.number}"
            yield Difference(ROOM, thing, "left", str(need.left), str(left))


def _reservations() -> Iterator[Difference]:
    """Never more left than was kept and not packed; nothing for a closed order."""
    for row in Reservation.objects.select_related("line__order", "lot").order_by("id"):
        most = 0 if row.line.order.closed_at else row.quantity - row.packed
        if row.left > most:
            thing = f"order {row.line.order.number}, line {row.line.number}, lot {row.lot.code}"
            yield Difference(ROOM, thing, "left", str(row.left), f"{most} at most")
