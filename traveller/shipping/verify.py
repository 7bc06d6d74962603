"""Do cartons, lines and orders follow from what was packed, opened and shipped?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from traveller.journal.models import Event
from traveller.journal.verify import Difference, readable, reading, safely
from traveller.ledger.models import Condition, Posting
from traveller.orders.models import Order, OrderLine
from traveller.shipping.kit import least_of
from traveller.shipping.models import Carton, CartonLot

ROOM = "shipping"


def differences() -> Iterator[Difference]:
    cartons = list(Carton.objects.select_related("shipment", "line__order").order_by("id"))
    yield from safely(ROOM, "contents of cartons", _contents())
    yield from safely(ROOM, "cartons", _cartons(cartons))
    yield from safely(ROOM, "order lines", _lines(cartons))
    yield from safely(ROOM, "closed orders", _orders())


def _contents() -> Iterator[Difference]:
    """What a carton is said to hold is what its event posted as packed."""
    posted = {
        (event, lot): quantity
        for event, lot, quantity in Posting.objects.filter(
            event__kind="packed", account__condition=Condition.PACKED
        ).values_list("event_id", "account__lot_id", "quantity")
    }
    said = {
        (event, lot): quantity
        for event, lot, quantity in CartonLot.objects.values_list("carton__packed_event_id", "lot_id", "quantity")
    }
    for key in sorted(posted.keys() | said.keys()):
        if posted.get(key) != said.get(key):
            thing = f"event {key[0]}, lot {key[1]}"
            yield Difference(ROOM, thing, "packed", str(said.get(key)), str(posted.get(key)))


def _cartons(cartons: list[Carton]) -> Iterator[Difference]:
    opened: dict[int, int] = {}
    shipped: dict[int, int] = {}
    quantities: dict[int, int] = {}
    faults: list[Difference] = []
    for event in readable(Event.objects.filter(kind__in=("packed", "carton opened", "shipped"))):
        reported = event.data["told"]
        with reading(event, ROOM, faults):
            if event.kind == "packed":
                quantities[event.pk] = reported["quantity"]
            elif event.kind == "carton opened":
                opened[reported["carton"]] = event.pk
            else:
                shipped.update(dict.fromkeys(reported["cartons"], event.pk))
    yield from faults
    for carton in cartons:
        fields = {
            "quantity": (carton.quantity, quantities.get(carton.packed_event_id)),
            "opened": (carton.opened_event_id, opened.get(carton.pk)),
            "shipped": (carton.shipment.event_id if carton.shipment else None, shipped.get(carton.pk)),
        }
        for name, (stored, rebuilt) in fields.items():
            if stored != rebuilt:
                yield Difference(ROOM, f"carton {carton.code}", name, str(stored), str(rebuilt))


def _lines(cartons: list[Carton]) -> Iterator[Difference]:
    packed: dict[int, int] = defaultdict(int)
    shipped: dict[int, int] = defaultdict(int)
    for carton in cartons:
        if carton.opened_event_id is None:
            packed[carton.line_id] += carton.quantity
            shipped[carton.line_id] += carton.quantity if carton.shipment_id else 0
    for line in OrderLine.objects.select_related("order").order_by("id"):
        thing = f"order {line.order.number}, line {line.number}"
        if line.packed != packed[line.pk]:
            yield Difference(ROOM, thing, "packed", str(line.packed), str(packed[line.pk]))
        if line.shipped != shipped[line.pk]:
            yield Difference(ROOM, thing, "shipped", str(line.shipped), str(shipped[line.pk]))


def _orders() -> Iterator[Difference]:
    """An order is closed only when every line is complete and nothing of it is still here."""
    for order in Order.objects.exclude(closed_at=None).prefetch_related("lines").order_by("id"):
        for line in order.lines.all():
            if line.shipped < least_of(line) or line.packed > line.shipped:
                thing = f"order {order.number}"
                yield Difference(ROOM, thing, "closed", str(order.closed_at), f"open: line {line.number}")
