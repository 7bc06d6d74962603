"""A complete kit goes into a carton: all its lots at once, each checked again under lock."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from uuid import uuid5

from sites.models import Site
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.journal.subjects import register
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Balances, Move, Place, post
from traveller.orders import reserved
from traveller.orders.models import OrderLine
from traveller.shipping.kit import beyond, judge, kit_of, most_of, packable, short_of
from traveller.shipping.models import Carton, CartonLot

KIND = "packed"


@action
def pack(
    *,
    event_context: EventContext,
    line_id: int,
    site_id: int,
    quantity: int,
    lots: Sequence[tuple[int, int]],
    packer: str,
) -> Carton:
    """`lots`: lot and how many of it, finished pieces and what is added alike; `quantity` finished pieces."""
    reported = {
        "line": line_id,
        "site": site_id,
        "quantity": quantity,
        "lots": sorted([lot_id, taken] for lot_id, taken in lots),
        "packer": packer,
    }
    if before := earlier(event_context, KIND, reported):
        return Carton.objects.get(packed_event=before)
    line = OrderLine.objects.select_for_update(of=("self",)).select_related("order__subject", "part").get(pk=line_id)
    if line.order.closed_at:
        raise Refused("order_closed", order=line.order.number)
    if quantity <= 0 or any(taken <= 0 for _, taken in lots):
        raise Refused("not_a_quantity", found=min([quantity, *(taken for _, taken in lots)]))
    taken_of: dict[int, int] = defaultdict(int)
    for lot_id, taken in lots:
        taken_of[lot_id] += taken
    balances = Balances(taken_of)
    rows = Lot.objects.select_related("part", "subject").in_bulk(taken_of)
    site = Site.objects.get(pk=site_id)
    _check(line, site, quantity, rows, taken_of, event_context)
    subject = register(uuid5(event_context.uid, "carton"), "carton")
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[subject, line.order.subject, *[lot.subject for lot in rows.values()]],
        reported=reported,
        site_id=site_id,
        carton=subject.code,
        order=line.order.number,
    )
    post(event, _into_the_carton(balances, taken_of, site_id))
    carton = Carton.objects.create(
        subject=subject,
        code=subject.code or "",
        line=line,
        site=site,
        quantity=quantity,
        packer=packer,
        packed_event=event,
        packed_at=event_context.at,
    )
    CartonLot.objects.bulk_create(
        [CartonLot(carton=carton, lot_id=lot_id, quantity=taken) for lot_id, taken in taken_of.items()]
    )
    for lot_id, taken in taken_of.items():
        reserved.pack_reserved(line.pk, lot_id, taken)
    line.packed += quantity
    line.save(update_fields=["packed"])
    return carton


def _into_the_carton(balances: Balances, taken_of: Mapping[int, int], site_id: int) -> list[Move]:
    """What leaves the shelf: `taken_of` is lot and how many of it."""
    moves: list[Move] = []
    for lot_id, taken in taken_of.items():
        shelf = Place(lot_id, site_id, Condition.STOCK)
        moves += balances.transfer(shelf, shelf.become(Condition.PACKED), taken)
    return moves


def _check(
    line: OrderLine,
    site: Site,
    quantity: int,
    lots: dict[int, Lot],
    taken_of: dict[int, int],
    event_context: EventContext,
) -> None:
    """Every lot as at the scan; then the kit as a whole, and the finished pieces together against the order."""
    kit = kit_of(line, quantity)
    on = event_context.at.astimezone(site.zone).date()
    stops = packable(taken_of, site, on=on)
    got: dict[int, int] = defaultdict(int)
    for lot_id, taken in taken_of.items():
        lot = lots.get(lot_id)
        if lot is None:
            raise Refused("unknown_lot")
        look = judge(line, lot, site, stop=stops[lot_id], quantity=taken, kit=kit)
        if not look.ok:
            raise Refused(look.code, **look.figures)
        got[lot.part_id] += taken
    missing, surplus = short_of(kit, got), beyond(kit, got)
    if missing:
        raise Refused("kit_short", missing=missing)
    if surplus:
        raise Refused("kit_over", surplus=surplus)
    most = most_of(line)
    if line.packed + quantity > most:
        raise Refused("more_than_ordered", ordered=line.quantity, most=most, packed=line.packed, wanted=quantity)
