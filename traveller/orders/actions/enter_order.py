"""A customer's order is entered or changed; never below what was already released or packed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any
from uuid import uuid5

from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.journal.subjects import register
from traveller.orders.models import Order, OrderLine

KIND = "order entered"


@dataclass(frozen=True, slots=True)
class LineTold:
    """One line as the customer ordered it; tolerances in parts per million of the quantity."""

    number: int
    part_id: int
    quantity: int
    due_on: date
    over_ppm: int = 0
    under_ppm: int = 0


@action
def enter_order(
    *,
    event_context: EventContext,
    number: str,
    customer: str,
    lines: Sequence[LineTold],
    placed_on: date,
    ship_to: str = "",
) -> Order:
    """Lines that are not named stay as they are. An order told as it already stands changes nothing."""
    reported = {
        "number": number,
        "customer": customer,
        "ship_to": ship_to,
        "placed_on": placed_on,
        "lines": [asdict(line) for line in lines],
    }
    before = earlier(event_context, KIND, reported)
    order = Order.objects.select_for_update(of=("self",)).select_related("subject").filter(number=number).first()
    if before:
        assert order is not None
        return order
    there = {line.number: line for line in order.lines.select_related("part")} if order else {}
    _refuse_impossible(lines, there)
    head = {"customer": customer, "ship_to": ship_to, "placed_on": placed_on}
    changed = [line for line in lines if _differs(line, there.get(line.number))]
    if order:
        if not changed and _is_headed(order, head):
            return order
        if order.closed_at:
            raise Refused("order_closed", order=number)
    subject = order.subject if order else register(uuid5(event_context.uid, "order"), "order")
    record(
        event_context=event_context,
        kind=KIND,
        subjects=[subject],
        reported=reported,
        changed=[line.number for line in changed],
    )
    order, _ = Order.objects.update_or_create(number=number, defaults={**head, "subject": subject})
    for line in changed:
        OrderLine.objects.update_or_create(order=order, number=line.number, defaults=_fields(line))
    return order


def _fields(line: LineTold) -> dict[str, Any]:
    fields = asdict(line)
    del fields["number"]
    return fields


def _differs(line: LineTold, there: OrderLine | None) -> bool:
    return there is None or any(getattr(there, name) != value for name, value in _fields(line).items())


def _is_headed(order: Order, head: Mapping[str, Any]) -> bool:
    return all(getattr(order, name) == value for name, value in head.items())


def _refuse_impossible(lines: Iterable[LineTold], known: Mapping[int, OrderLine]) -> None:
    for line in lines:
        if line.quantity <= 0:
            raise Refused("not_a_quantity", found=line.quantity)
        there = known.get(line.number)
        if there is None:
            continue
        least = max(there.released, there.packed)
        if line.quantity < least:
            raise Refused("below_released", line=line.number, wanted=line.quantity, least=least)
        if line.part_id != there.part_id and least:
            raise Refused("part_released", line=line.number, part=there.part.title)
