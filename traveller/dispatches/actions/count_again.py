"""A line that was counted is counted once more, with the sender's figure known. Called inside an action that minds the
batches too (batches.actions.count_again)."""

from __future__ import annotations

from collections.abc import Mapping
from copy import copy
from typing import Any

from traveller.dispatches.actions.receive import KIND as COUNTED
from traveller.dispatches.actions.receive import Booking, Received, booked, extras, here
from traveller.dispatches.models import ConsignmentLine
from traveller.dispatches.weighed import Scale, kept_scale
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.ledger.models import Condition
from traveller.ledger.post import Balances, Move, Place, post

KIND = "counted again"
COUNTS = (COUNTED, KIND)


def take_again(
    *,
    event_context: EventContext,
    line_id: int,
    quantity: int,
    method: str = "hand",
    sample: int = 0,
    how: Mapping[str, Any] | None = None,
    note: str = "",
    seen: bool = True,
) -> Received:
    """All that has come of a closed line, in the part's base unit: the newest count stands, the one before stays in the
    journal, and the difference is reckoned anew.

    Only what differs from the count before is posted. Of pieces that were used since, the shortfall stands unexplained
    where they were used. `seen`: the counter had the sender's figure. Refused before the first count, after the
    difference was settled, and of what was mixed.
    """
    reported = {"line": line_id, "quantity": quantity, "method": method, "sample": sample, "seen": seen}
    reported |= extras(how=how, note=note)
    before = earlier(event_context, KIND, reported)
    line = (
        ConsignmentLine.objects.select_for_update(of=("self", "consignment"))
        .select_related("consignment__subject", "lot__subject", "settled_event")
        .get(pk=line_id)
    )
    if before:
        return Received(before, line, repeated=True)
    if quantity < 0:
        raise Refused("not_a_quantity", found=quantity)
    newest = _newest(line)
    _refuse(line, newest)
    scale = {**kept_scale(line.lot.part_id, method, how), **({"counted": quantity} if method == "weight" else {})}
    booking = _reckoned(line, quantity, method, sample, scale)
    arrival, more = here(line), booking.received - line.received
    balances = Balances([line.lot_id])
    used = max(0, -more - balances.at(arrival))
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[line.consignment.subject, line.lot.subject],
        reported=reported,
        site_id=line.consignment.destination_id,
        corrects=newest,
        lot=line.lot.code,
        line=line.pk,
        booking=booking.as_data(),
        **extras(used=used, scale=scale),
    )
    post(event, _moves(line, arrival, more, balances))
    line.received, line.difference = booking.received, booking.difference
    line.received_method, line.received_sample, line.received_scale = method, sample, scale
    # A count that knew the first figure teaches nothing of how far two counts lie apart (dispatches.weighed).
    line.seen = line.seen or seen or line.consignment.shown
    line.settled_event = event if booking.inside else None
    line.save()
    return Received(event, line, arrived=more, place=arrival)


def _moves(line: ConsignmentLine, arrival: Place, more: int, balances: Balances) -> list[Move]:
    """What this count has more than the one before, out of the line's unexplained rest; or fewer, back to it."""
    rest = Place(line.lot_id, line.consignment.origin_id, Condition.UNEXPLAINED, line.to_step)
    if more > 0:
        return balances.transfer(rest, arrival, more)
    return balances.transfer(arrival, rest, -more, beyond=Condition.UNEXPLAINED)


def _reckoned(line: ConsignmentLine, quantity: int, method: str, sample: int, scale: Scale) -> Booking:
    """As if it had been counted so in the first place."""
    anew = copy(line)
    anew.received = 0
    booking = booked(anew, quantity, method, sample, scale, final=True)
    # What was counted at another place stands, whatever the counts together are taken for.
    received = max(0, booking.received)
    return Booking(received, line.misdirected, True, line.sent - received - line.misdirected, booking.inside)


def _newest(line: ConsignmentLine) -> Event | None:
    """The count of this line that stands; None before the first."""
    rows = Event.objects.filter(kind__in=COUNTS, about__subject=line.consignment.subject_id, data__line=line.pk)
    return rows.order_by("-id").first()


def _refuse(line: ConsignmentLine, newest: Event | None) -> None:
    """Raise what keeps a line from being counted again."""
    code = line.consignment.code
    if line.taken_back_event_id:
        raise Refused("dispatch_taken_back", consignment=code)
    if not line.closed or newest is None:
        raise Refused("not_counted_yet", consignment=code)
    if line.settled_event is not None and line.settled_event.kind not in COUNTS:
        raise Refused("difference_was_settled", consignment=code, received=line.received + line.misdirected)
    about = Event.objects.filter(about__subject=line.consignment.subject_id)
    if about.filter(kind="over tolerance", data__line=line.pk).exists():
        raise Refused("surplus_was_held", consignment=code)
    if any(line.pk in mixed.data["told"]["lines"] for mixed in about.filter(kind="mixed")):
        raise Refused("counted_mixed", consignment=code)


def may_count_again(line: ConsignmentLine) -> bool:
    """Is there a form for it? Two queries."""
    try:
        _refuse(line, _newest(line))
    except Refused:
        return False
    return True
