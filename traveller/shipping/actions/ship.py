"""Cartons leave for the customer."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from uuid import uuid5

from sites.models import Site
from traveller.batches.steps.closing import Closing
from traveller.batches.usable import usable
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.journal.subjects import register
from traveller.ledger import genealogy
from traveller.ledger.models import OWED, Account, Condition
from traveller.ledger.post import Balances, Place, post
from traveller.orders import reserved
from traveller.orders.models import Order, OrderLine
from traveller.shipping.kit import least_of
from traveller.shipping.models import Carton, CartonLot, Shipment

KIND = "shipped"


@action
def ship(
    *, event_context: EventContext, order_id: int, site_id: int, carton_ids: Sequence[int], carrier: str = ""
) -> Shipment:
    """All these cartons or none; the order closes when every line is complete within its tolerance."""
    reported = {"order": order_id, "site": site_id, "cartons": sorted(carton_ids), "carrier": carrier}
    if before := earlier(event_context, KIND, reported):
        return Shipment.objects.get(event=before)
    order = Order.objects.select_for_update(of=("self",)).select_related("subject").get(pk=order_id)
    lines = {line.pk: line for line in order.lines.select_for_update().order_by("pk")}
    cartons = list(
        Carton.objects.select_for_update(of=("self",))
        .select_related("subject")
        .filter(pk__in=carton_ids)
        .order_by("pk")
    )
    _check_cartons(order, lines, site_id, cartons, carton_ids)
    contents = list(
        CartonLot.objects.filter(carton__in=cartons).select_related("lot__subject", "lot__part").order_by("id")
    )
    balances = Balances(row.lot_id for row in contents)
    on = event_context.at.astimezone(Site.objects.get(pk=site_id).zone).date()
    _check_lots({row.lot_id for row in contents}, site_id, on)
    subject = register(uuid5(event_context.uid, "shipment"), "shipment")
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[
            subject,
            order.subject,
            *[carton.subject for carton in cartons],
            *[row.lot.subject for row in contents],
        ],
        reported=reported,
        site_id=site_id,
        shipment=subject.code,
    )
    moves = []
    closing = Closing(balances, {row.lot_id for row in contents})
    for row in contents:
        packed = Place(row.lot_id, site_id, Condition.PACKED)
        moves += balances.transfer(packed, packed.become(Condition.SOLD_TO), row.quantity)
    post(event, moves)
    closing.settle(event_context.at)
    shipment = Shipment.objects.create(
        subject=subject,
        code=subject.code or "",
        order=order,
        site_id=site_id,
        carrier=carrier,
        event=event,
        shipped_at=event_context.at,
    )
    Carton.objects.filter(pk__in=[carton.pk for carton in cartons]).update(shipment=shipment)
    for carton in cartons:
        lines[carton.line_id].shipped += carton.quantity
    for line in lines.values():
        line.save(update_fields=["shipped"])
    _close_if_complete(event, order, list(lines.values()))
    return shipment


def _check_cartons(
    order: Order, lines: dict[int, OrderLine], site_id: int, cartons: list[Carton], wanted: Sequence[int]
) -> None:
    if not cartons or len(cartons) != len(set(wanted)):
        raise Refused("no_such_carton" if wanted else "nothing_to_ship")
    for carton in cartons:
        if carton.line_id not in lines:
            raise Refused("carton_of_another_order", carton=carton.code, order=order.number)
        if carton.opened_event_id:
            raise Refused("carton_opened", carton=carton.code)
        if carton.shipment_id:
            raise Refused("carton_shipped", carton=carton.code)
        if carton.site_id != site_id:
            raise Refused("carton_elsewhere", carton=carton.code)


def _check_lots(lots: set[int], site_id: int, on: date) -> None:
    """A lot may have been stopped since it was packed; and nothing leaves while earlier steps are untold."""
    for stop in usable(sorted(lots), "ship", on, site_id=site_id).values():
        if stop is not None:
            raise stop.refused()
    origins = set(lots)
    for lot_id in lots:
        origins |= genealogy.ancestors(lot_id)
    unreported = (
        Account.objects.filter(lot__in=origins, condition__in=OWED)
        .exclude(balance=0)
        .select_related("lot__part", "site")
        .order_by("id")
        .first()
    )
    if unreported:
        raise Refused(
            "unreported",
            lot=unreported.lot.code,
            part=unreported.lot.part.title,
            site=unreported.site.name,
            step=unreported.step,
            quantity=-unreported.balance,
            unit=unreported.lot.part.unit,
        )


def _close_if_complete(event: Event, order: Order, lines: list[OrderLine]) -> None:
    # A carton that is packed and still here belongs to the order: it stays open for it.
    if any(line.shipped < least_of(line) or line.packed > line.shipped for line in lines):
        return
    order.closed_at = event.happened_at
    order.save(update_fields=["closed_at"])
    reserved.let_reserved_go(line.pk for line in lines)
