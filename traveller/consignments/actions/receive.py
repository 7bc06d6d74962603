"""Goods arrive and are counted, best before anybody has seen the sender's figure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, cast

from traveller.consignments.models import Consignment, ConsignmentLine
from traveller.journal.deed import deed
from traveller.journal.models import Event, Parked
from traveller.journal.record import earlier, park, record
from traveller.journal.refusal import Refused
from traveller.journal.stamp import Stamp
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Balances, Place, post
from traveller.rules.counts import Count, compare

KIND = "received"
UNANNOUNCED = "arrived unannounced"
Method = Literal["hand", "weight", "shots"]


@dataclass(frozen=True, slots=True)
class Received:
    event: Event
    line: ConsignmentLine
    repeated: bool = False


@deed
def receive(
    *,
    stamp: Stamp,
    line_id: int,
    quantity: int,
    method: str = "hand",
    sample: int = 0,
    seen: bool = False,
    more_to_come: bool = False,
) -> Received:
    """Book a counted line. Outside what the methods can resolve, the receiver's figure stands and the signed
    rest waits in `unexplained` for the founder; inside, the finer method's figure is booked."""
    told = {
        "line": line_id,
        "quantity": quantity,
        "method": method,
        "sample": sample,
        "seen": seen,
        "more_to_come": more_to_come,
    }
    before = earlier(stamp, KIND, told)
    line = (
        ConsignmentLine.objects.select_for_update(of=("self",))
        .select_related("consignment__subject", "lot__subject")
        .get(pk=line_id)
    )
    if before:
        return Received(before, line, repeated=True)
    if quantity < 0:
        raise Refused("not_a_quantity", found=quantity)
    if line.closed:
        raise Refused("already_received", consignment=line.consignment.code, received=line.received)
    event = record(
        stamp=stamp,
        kind=KIND,
        subjects=[line.consignment.subject, line.lot.subject],
        told=told,
        site_id=line.consignment.destination_id,
        lot=line.lot.code,
    )
    line.seen = line.seen or seen
    book(event, line, quantity, method, sample, final=not more_to_come)
    return Received(event, line)


def book(
    event: Event, line: ConsignmentLine, quantity: int, method: str, sample: int, *, final: bool
) -> None:
    """Post an arrival; with the last part of a line, compare both counts."""
    consignment = line.consignment
    road = Place(line.lot_id, consignment.origin_id, Condition.ON_THE_ROAD, line.to_step)
    waiting = Condition.IN_PROCESS if line.to_step else Condition.STOCK
    arrival = Place(line.lot_id, consignment.destination_id, waiting, line.to_step)
    balances = Balances([line.lot_id])
    booked, before = line.received + quantity, line.received
    rest = 0
    if final:
        result = compare(
            Count(line.sent, cast(Method, line.sent_method), line.sent_sample),
            Count(booked, cast(Method, method), sample),
        )
        booked = result.booked
        rest = line.sent - booked
        line.difference = rest
        line.closed = True
        if result.inside:
            line.settled_event = event
    moves = balances.transfer(road, arrival, booked - before, beyond=Condition.UNEXPLAINED)
    if rest > 0:
        moves += balances.transfer(road, road.become(Condition.UNEXPLAINED), rest)
    post(event, moves)
    line.received = booked
    line.received_method, line.received_sample = method, sample
    line.save()
    if final and not consignment.lines.filter(closed=False).exists():
        Consignment.objects.filter(pk=consignment.pk).update(received_at=event.happened_at)


@deed
def arrived_unannounced(
    *, stamp: Stamp, site_id: int, lot_id: int, quantity: int, method: str = "hand", sample: int = 0
) -> Parked:
    """Goods are here that nobody has told were sent: counted, parked, and booked when the sender tells."""
    told = {"lot": lot_id, "quantity": quantity, "method": method, "sample": sample}
    before = earlier(stamp, UNANNOUNCED, told)
    if before:
        return before.parked
    if quantity <= 0:
        raise Refused("not_a_quantity", found=quantity)
    lot = Lot.objects.select_related("subject").get(pk=lot_id)
    event = record(stamp=stamp, kind=UNANNOUNCED, subjects=[lot.subject], told=told, site_id=site_id)
    return park(event, "dispatch_unknown", lot=lot.code, quantity=quantity)
