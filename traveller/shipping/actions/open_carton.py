"""A carton is opened again before it was shipped: everything in it goes back into stock."""

from __future__ import annotations

from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused, refuse_without
from traveller.ledger.models import Condition
from traveller.ledger.post import Balances, Place, post
from traveller.orders import reserved
from traveller.orders.models import OrderLine
from traveller.shipping.models import Carton

KIND = "carton opened"


@action
def open_carton(*, event_context: EventContext, carton_id: int, reason: str) -> Carton:
    """Held lots too: nothing leaves, and what is held can be looked at."""
    reported = {"carton": carton_id, "reason": reason}
    before = earlier(event_context, KIND, reported)
    # The line first, as packing and shipping do, so that no two wait for each other.
    line = OrderLine.objects.select_for_update(of=("self",)).select_related("order__subject").get(cartons=carton_id)
    carton = Carton.objects.select_for_update(of=("self",)).select_related("subject").get(pk=carton_id)
    if before:
        return carton
    refuse_without(reason)
    if carton.shipment_id:
        raise Refused("carton_shipped", carton=carton.code)
    if carton.opened_event_id:
        raise Refused("carton_opened", carton=carton.code)
    lots = list(carton.lots.select_related("lot__subject").order_by("lot_id"))
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[carton.subject, line.order.subject, *[row.lot.subject for row in lots]],
        reported=reported,
        site_id=carton.site_id,
    )
    balances = Balances([row.lot_id for row in lots])
    moves = []
    for row in lots:
        packed = Place(row.lot_id, carton.site_id, Condition.PACKED)
        moves += balances.transfer(packed, packed.become(Condition.STOCK), row.quantity)
    post(event, moves)
    for row in lots:
        reserved.unpack_reserved(line.pk, row.lot_id, row.quantity)
    carton.opened_event = event
    carton.save(update_fields=["opened_event"])
    line.packed -= carton.quantity
    line.save(update_fields=["packed"])
    return carton
