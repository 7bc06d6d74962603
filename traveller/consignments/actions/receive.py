"""Goods arrive and are counted. Called inside a deed that minds the batches too (batches.actions.receive)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, cast

from traveller.consignments.models import Consignment, ConsignmentLine, Purpose
from traveller.journal.models import Event, Parked
from traveller.journal.record import earlier, park, record, settle
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


def take_in(
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
        ConsignmentLine.objects.select_for_update(of=("self", "consignment"))
        .select_related("consignment__subject", "lot__subject")
        .get(pk=line_id)
    )
    if before:
        return Received(before, line, repeated=True)
    if quantity < 0:
        raise Refused("not_a_quantity", found=quantity)
    if line.closed:
        raise Refused("already_received", consignment=line.consignment.code, received=line.received)
    booking = booked(line, quantity, method, sample, final=not more_to_come)
    event = record(
        stamp=stamp,
        kind=KIND,
        subjects=[line.consignment.subject, line.lot.subject],
        told=told,
        site_id=line.consignment.destination_id,
        lot=line.lot.code,
        line=line.pk,
        booking=booking.as_data(),
    )
    line.seen = line.seen or seen
    book(event, line, booking, method, sample)
    return Received(event, line)


@dataclass(frozen=True, slots=True)
class Booking:
    """What a count makes of a line: all that is booked as received by now, and the signed rest once it is closed."""

    received: int
    closed: bool = False
    difference: int = 0
    inside: bool = False

    def as_data(self) -> dict[str, int | bool]:
        return {
            "received": self.received,
            "closed": self.closed,
            "difference": self.difference,
            "inside": self.inside,
        }


def booked(line: ConsignmentLine, quantity: int, method: str, sample: int, *, final: bool) -> Booking:
    """With the last part of a line, both counts are compared."""
    counted = line.received + quantity
    if not final:
        return Booking(counted)
    result = compare(
        Count(line.sent, cast(Method, line.sent_method), line.sent_sample),
        Count(counted, cast(Method, method), sample),
    )
    return Booking(result.booked, True, line.sent - result.booked, result.inside)


def book(event: Event, line: ConsignmentLine, booking: Booking, method: str, sample: int) -> None:
    """Post an arrival."""
    consignment = line.consignment
    road = Place(line.lot_id, consignment.origin_id, Condition.ON_THE_ROAD, line.to_step)
    arrival = Place(line.lot_id, consignment.destination_id, _waiting(line), line.to_step)
    rest = road.become(Condition.UNEXPLAINED)
    balances = Balances([line.lot_id])
    arrived = booking.received - line.received
    # No more than this line still has on the road: pieces of another consignment of the lot may be there too.
    from_road = min(arrived, max(0, line.sent - line.received))
    moves = balances.transfer(road, arrival, from_road)
    moves += balances.transfer(rest, arrival, arrived - from_road)
    if booking.difference > 0:
        moves += balances.transfer(road, rest, booking.difference)
    post(event, moves)
    line.received = booking.received
    line.received_method, line.received_sample = method, sample
    if booking.closed:
        line.difference, line.closed = booking.difference, True
        line.settled_event = event if booking.inside else None
    line.save()
    if booking.closed and not consignment.lines.filter(closed=False).exists():
        Consignment.objects.filter(pk=consignment.pk).update(received_at=event.happened_at)


def _waiting(line: ConsignmentLine) -> str:
    """Returned for a step that is done again, pieces stay apart from first entries."""
    if not line.to_step:
        return Condition.STOCK
    return Condition.REWORK if line.consignment.purpose == Purpose.RETURN else Condition.IN_PROCESS


def take_in_unannounced(
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
    parked = park(event, "dispatch_unknown", lot=lot.code, quantity=quantity)
    # The sender's news may have come first, unknown to the phone that counted.
    on_the_road = ConsignmentLine.objects.filter(consignment__destination=site_id, lot=lot, closed=False)
    line = on_the_road.select_related("consignment__subject", "lot__subject").order_by("id").first()
    if line:
        meet(stamp, line, parked)
    return parked


def meet(stamp: Stamp, line: ConsignmentLine, parked: Parked) -> None:
    """Book a count that was parked on the line it belongs to, as of when the goods were counted."""
    arrival = parked.event
    told = arrival.data["told"]
    method, sample = str(told["method"]), int(told["sample"])
    booking = booked(line, int(told["quantity"]), method, sample, final=True)
    event = record(
        stamp=replace(stamp.derived(f"meets:{arrival.pk}"), at=arrival.happened_at),
        kind=KIND,
        subjects=[line.consignment.subject, line.lot.subject],
        told={},
        site_id=line.consignment.destination_id,
        lot=line.lot.code,
        line=line.pk,
        counted_in=str(arrival.uid),
        booking=booking.as_data(),
    )
    book(event, line, booking, method, sample)
    settle(parked, event)
