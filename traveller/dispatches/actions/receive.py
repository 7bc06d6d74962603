"""Goods arrive and are counted. Called inside an action that minds the batches too (batches.actions.receive)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from traveller.dispatches.models import Consignment, ConsignmentLine, SentFor
from traveller.dispatches.weighed import Scale, count_how, kept_scale, sides_of
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.ledger.models import Condition
from traveller.ledger.post import Balances, Place, post
from traveller.rules.counts import compare_counts

KIND = "received"


@dataclass(frozen=True, slots=True)
class Received:
    """`arrived`: what this count added to the line, at `place`."""

    event: Event
    line: ConsignmentLine
    repeated: bool = False
    arrived: int = 0
    place: Place | None = None


def extras(**said: Any) -> dict[str, Any]:
    """What may be said beside a count, left out where nothing was: so that older tellings still compare equal."""
    return {name: value for name, value in said.items() if value not in ("", None, {}, False)}


def take_in(
    *,
    event_context: EventContext,
    line_id: int,
    quantity: int,
    method: str = "hand",
    sample: int = 0,
    seen: bool = False,
    more_to_come: bool = False,
    rest_due: date | None = None,
    how: Mapping[str, Any] | None = None,
    note: str = "",
    first: int = 0,
) -> Received:
    """Book a counted line. Outside what the methods can resolve, the receiver's figure stands and the signed
    rest waits in `unexplained` for the founder; inside, the finer method's figure is booked.

    `how`: the readings that the count was computed from. `more_to_come` leaves the rest on the road. `first`: pieces
    counted before the sender's figure was shown, where they were more and were counted again before being recorded.
    """
    reported = {
        "line": line_id,
        "quantity": quantity,
        "method": method,
        "sample": sample,
        "seen": seen,
        "more_to_come": more_to_come,
        **extras(rest_due=rest_due and rest_due.isoformat(), how=how, note=note, first=first),
    }
    before = earlier(event_context, KIND, reported)
    line = (
        ConsignmentLine.objects.select_for_update(of=("self", "consignment"))
        .select_related("consignment__subject", "lot__subject")
        .get(pk=line_id)
    )
    if before:
        return Received(before, line, repeated=True)
    if quantity < 0:
        raise Refused("not_a_quantity", found=quantity)
    if line.taken_back_event_id:
        raise Refused("dispatch_taken_back", consignment=line.consignment.code)
    if line.closed:
        raise Refused("already_received", consignment=line.consignment.code, received=line.received)
    scale = scale_of(line, quantity, method, how)
    booking = booked(line, quantity, method, sample, scale, final=not more_to_come)
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[line.consignment.subject, line.lot.subject],
        reported=reported,
        site_id=line.consignment.destination_id,
        lot=line.lot.code,
        line=line.pk,
        booking=booking.as_data(),
        **extras(scale=scale),
    )
    # The sender's figure stood on the totes: whoever counted them had it before the eyes.
    line.seen = line.seen or seen or line.consignment.shown
    line.rest_due = rest_due if more_to_come else None
    return book(event, line, booking, method, sample, here(line), scale)


@dataclass(frozen=True, slots=True)
class Booking:
    """What a count makes of a line: all that is booked by now as received and as astray, and the signed rest
    once it is closed."""

    received: int
    misdirected: int = 0
    closed: bool = False
    difference: int = 0
    inside: bool = False

    def as_data(self) -> dict[str, int | bool]:
        """The same by name, in pieces, for the journal."""
        return {
            "received": self.received,
            "misdirected": self.misdirected,
            "closed": self.closed,
            "difference": self.difference,
            "inside": self.inside,
        }


def scale_of(line: ConsignmentLine, quantity: int, method: str, how: Mapping[str, Any] | None) -> dict[str, Any]:
    """What the line keeps of how it was weighed on arrival; `counted`: all of it at once, as shown by the scale."""
    scale = kept_scale(line.lot.part_id, method, how)
    return {**scale, "counted": quantity} if scale and not line.received else scale


def booked(
    line: ConsignmentLine,
    quantity: int,
    method: str,
    sample: int,
    scale: Scale,
    *,
    final: bool | None,
    misdirected: bool = False,
) -> Booking:
    """With the last part of a line, both counts are compared. `final` None: nobody said whether it is the last; it is
    where the sender's figure is reached, or as near as such counts can tell."""
    result = compare_counts(
        sides_of(line)[0], count_how(line.received + line.misdirected + quantity, method, sample, scale)
    )
    if final is None:
        final = result.inside or result.difference > 0
    now = (result.booked if final else line.received + line.misdirected + quantity) - line.received - line.misdirected
    received, gone_misdirected = (
        (line.received, line.misdirected + now) if misdirected else (line.received + now, line.misdirected)
    )
    if not final:
        return Booking(received, gone_misdirected)
    return Booking(received, gone_misdirected, True, line.sent - result.booked, result.inside)


def beyond_sent(
    line: ConsignmentLine, quantity: int, method: str, sample: int, scale: Scale, *, again: bool = False
) -> int:
    """So many more than were sent, and more than such counts can be apart; 0 where it is no such count.

    `again`: `quantity` is all that has come of the line, not what is added to what came before.
    """
    if again:
        quantity -= line.received
    booking = booked(line, quantity, method, sample, scale, final=True)
    return 0 if booking.inside else max(0, -booking.difference)


def book(
    event: Event,
    line: ConsignmentLine,
    booking: Booking,
    method: str,
    sample: int,
    arrival: Place,
    scale: Scale,
) -> Received:
    """Post an arrival where it was counted, and write what it makes of its line."""
    consignment = line.consignment
    road = Place(line.lot_id, consignment.origin_id, Condition.ON_THE_ROAD, line.to_step)
    rest = road.become(Condition.UNEXPLAINED)
    balances = Balances([line.lot_id])
    arrived = booking.received + booking.misdirected - line.received - line.misdirected
    # No more than this line still has on the road: pieces of another consignment of the lot may be there too. A last
    # count may take some back, where the sender's is the finer: no more than has come.
    from_road = min(arrived, max(0, line.remaining))
    moves = balances.transfer(road, arrival, from_road)
    moves += balances.transfer(rest, arrival, arrived - from_road)
    if booking.difference > 0:
        moves += balances.transfer(road, rest, booking.difference)
    post(event, moves)
    line.received, line.misdirected = booking.received, booking.misdirected
    line.received_method, line.received_sample, line.received_scale = method, sample, dict(scale)
    if booking.closed:
        line.difference, line.closed = booking.difference, True
        line.settled_event = event if booking.inside else None
    line.save()
    if booking.closed and not consignment.lines.filter(closed=False).exists():
        Consignment.objects.filter(pk=consignment.pk).update(received_at=event.happened_at)
    return Received(event, line, arrived=arrived, place=arrival)


def here(line: ConsignmentLine) -> Place:
    """Where a line's pieces lie once they are counted at their destination.

    Returned for a step that is done again, pieces stay apart from first entries.
    """
    condition = Condition.STOCK
    if line.to_step:
        returned = line.consignment.purpose == SentFor.RETURN
        condition = Condition.REWORK if returned else Condition.IN_PROCESS
    return Place(line.lot_id, line.consignment.destination_id, condition, line.to_step)


def taken_from(line: ConsignmentLine) -> str:
    """The shelf, or what waited for a step and was returned: the sending event says which."""
    place = list(line.consignment.lines.order_by("id").values_list("pk", flat=True)).index(line.pk)
    return str(line.consignment.sent_event.data["told"]["lines"][place][6])
