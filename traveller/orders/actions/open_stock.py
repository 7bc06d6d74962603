"""Stock that was there before this record began, as the workbook lists it; never booked twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from uuid import UUID, uuid5

from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.ledger import lots
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Move, Place, post
from traveller.products.models import Part, PartKind

KIND = "stock opened"
_NAMES = UUID("0d6f1d2c-3a55-4a57-9a3f-61c7a5a4b0e1")


def opening_uid(part: str, lot: str, site: str) -> UUID:
    """One opening per part, lot and site, whoever imports it and however often."""
    return uuid5(_NAMES, "\x1f".join((part, lot, site)))


@action
def open_stock(
    *,
    event_context: EventContext,
    part_id: int,
    site_id: int,
    quantity: int,
    outside_number: str = "",
    expires_on: date | None = None,
) -> Lot:
    """A lot as it lay at `event_context.at`. The same again is the same lot; other figures for it are refused."""
    part = Part.objects.defer("picture").select_related("supplier").get(pk=part_id)
    event_context = replace(event_context, uid=opening_uid(part.number, outside_number, str(site_id)))
    reported = {
        "part": part_id,
        "site": site_id,
        "quantity": quantity,
        "outside_number": outside_number,
        "expires_on": expires_on,
    }
    if before := earlier(event_context, KIND, reported):
        return Lot.objects.get(born_event=before)
    if quantity <= 0:
        raise Refused("not_a_quantity", found=quantity)
    event = record(
        event_context=event_context, kind=KIND, subjects=[], reported=reported, site_id=site_id, number=part.number
    )
    lot = lots.create(
        event,
        part,
        origin="opening",
        uid=uuid5(event_context.uid, "lot"),
        outside_number=outside_number,
        expires_on=expires_on,
    )
    shelf = Place(lot.pk, site_id, Condition.STOCK)
    made = part.kind == PartKind.MADE
    source = (
        shelf.become(Condition.MADE_FROM) if made else Place(lot.pk, part.supplier_id or site_id, Condition.BOUGHT_FROM)
    )
    post(event, [Move(source, shelf, quantity)])
    return lot
