"""The founder orders bought parts or material from a supplier, to be delivered to any site."""

from __future__ import annotations

from datetime import date
from uuid import uuid5

from sites.models import Site
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.journal.subjects import register
from traveller.orders.models import Purchase
from traveller.products.models import Part, PartKind

KIND = "purchased"


@action
def purchase(
    *,
    event_context: EventContext,
    supplier_id: int,
    deliver_to_id: int,
    part_id: int,
    quantity: int,
    due_on: date | None = None,
    typed: str = "",
) -> Purchase:
    """`quantity` in the part's base unit; `typed` is the figure with its unit where it was converted from another."""
    reported = {
        "supplier": supplier_id,
        "deliver_to": deliver_to_id,
        "part": part_id,
        "quantity": quantity,
        "due_on": due_on,
        **({"typed": typed} if typed else {}),
    }
    if before := earlier(event_context, KIND, reported):
        return Purchase.objects.get(event=before)
    part = Part.objects.defer("picture").get(pk=part_id)
    if part.kind == PartKind.MADE:
        raise Refused("made_not_bought", part=part.title)
    if quantity <= 0:
        raise Refused("not_a_quantity", found=quantity)
    if supplier_id == deliver_to_id:
        raise Refused("same_site")
    supplier = Site.objects.get(pk=supplier_id)
    subject = register(uuid5(event_context.uid, "purchase"), "purchase")
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[subject],
        reported=reported,
        site_id=deliver_to_id,
        part=part.number,
        supplier=supplier.code,
    )
    return Purchase.objects.create(
        subject=subject,
        code=subject.code or "",
        supplier=supplier,
        deliver_to_id=deliver_to_id,
        part=part,
        quantity=quantity,
        due_on=due_on,
        event=event,
    )
