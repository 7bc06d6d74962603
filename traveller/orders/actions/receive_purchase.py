"""A delivery is here: it makes a lot, with or without a purchase that announced it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from uuid import uuid5

from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.ledger import lots
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Move, Place, post
from traveller.orders import reserved
from traveller.orders.models import Need, Purchase
from traveller.products.models import Part

KIND = "delivered"


@dataclass(frozen=True, slots=True)
class Delivered:
    """`kept`: how much of it went to released lines that waited for this part."""

    event: Event
    lot: Lot
    kept: int = 0
    repeated: bool = False


@action
def receive_purchase(
    *,
    event_context: EventContext,
    site_id: int,
    quantity: int,
    purchase_id: int | None = None,
    part_id: int | None = None,
    outside_number: str = "",
    expires_on: date | None = None,
    final: bool = False,
    typed: str = "",
) -> Delivered:
    """Book a delivery under the supplier's own lot number. `final`: no more of this purchase will come.

    `quantity` in the part's base unit; `typed` is the figure with its unit where it was converted from another.
    """
    reported = {
        "site": site_id, "quantity": quantity, "purchase": purchase_id, "part": part_id,
        "outside_number": outside_number, "expires_on": expires_on, "final": final,
        **({"typed": typed} if typed else {}),
    }  # fmt: skip
    if before := earlier(event_context, KIND, reported):
        return Delivered(before, Lot.objects.get(born_event=before), before.data["kept"], repeated=True)
    if quantity <= 0:
        raise Refused("not_a_quantity", found=quantity)
    bought = None
    if purchase_id is not None:
        bought = Purchase.objects.select_for_update(of=("self",)).select_related("subject").get(pk=purchase_id)
    part = _part(bought, part_id)
    keeps = _share_out(_waiting(part, expires_on, event_context), quantity)
    kept = sum(part for _, part in keeps)
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[bought.subject] if bought else [],
        reported=reported,
        site_id=site_id,
        part=part.number,
        kept=kept,
        keeps=[[need.pk, part] for need, part in keeps],
    )
    lot = lots.create(
        event,
        part,
        origin="purchase",
        uid=uuid5(event_context.uid, "lot"),
        outside_number=outside_number,
        expires_on=expires_on,
    )
    supplier_id = bought.supplier_id if bought else part.supplier_id
    shelf = Place(lot.pk, site_id, Condition.STOCK)
    post(event, [Move(Place(lot.pk, supplier_id or site_id, Condition.BOUGHT_FROM), shelf, quantity)])
    if bought:
        bought.received += quantity
        if final or bought.received >= bought.quantity:
            bought.closed_at = event_context.at
        bought.save(update_fields=["received", "closed_at"])
    _keep(event, lot, site_id, keeps)
    return Delivered(event, lot, kept)


def _part(bought: Purchase | None, part_id: int | None) -> Part:
    """The purchase's part; a delivery of something else is told without the purchase."""
    if bought is not None and part_id is not None and bought.part_id != part_id:
        raise Refused("another_part", purchase=bought.code, wanted=bought.part.title)
    wanted = bought.part_id if bought else part_id
    if wanted is None:
        raise Refused("part_needed")
    return Part.objects.defer("picture").get(pk=wanted)


def _waiting(part: Part, expires_on: date | None, event_context: EventContext) -> list[Need]:
    """Released lines that wait for the part, the earliest first; nothing is kept of what has expired."""
    if expires_on is not None and expires_on < event_context.at.date():
        return []
    return list(Need.objects.select_for_update().filter(part=part, left__gt=0).order_by("needed_on", "id"))


def _share_out(needs: list[Need], quantity: int) -> list[tuple[Need, int]]:
    """The delivery to the needs in their order, until it is used up."""
    keeps: list[tuple[Need, int]] = []
    for need in needs:
        part = min(quantity, need.left)
        if part:
            keeps.append((need, part))
            quantity -= part
    return keeps


def _keep(event: Event, lot: Lot, site_id: int, keeps: list[tuple[Need, int]]) -> None:
    for need, part in keeps:
        need.left -= part
        need.save(update_fields=["left"])
        reserved.reserve(event, line_id=need.line_id, lot_id=lot.pk, site_id=site_id, quantity=part)
