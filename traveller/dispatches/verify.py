"""Do consignments and their lines follow from what was sent, taken back, received, counted again and settled?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.journal.models import Event
from traveller.journal.verify import Difference, readable, reading, safely

ROOM = "dispatches"
_KINDS = ("received", "counted again", "difference settled")


@dataclass
class _Line:
    """A line as the journal tells it."""

    received: int = 0
    misdirected: int = 0
    closed: bool = False
    difference: int = 0
    settled: int | None = None
    closed_at: datetime | None = None
    closed_in: int = 0
    taken_back: int | None = None
    scale: dict[str, Any] = field(default_factory=dict)


def differences() -> Iterator[Difference]:
    faults: list[Difference] = []
    replayed = _lines(faults)
    yield from faults
    sent = Event.objects.filter(pk__in=Consignment.objects.order_by().values("sent_event"))
    sendings = {event.pk: event.data for event in readable(sent)}
    for consignment in Consignment.objects.prefetch_related("lines").order_by("id"):
        thing = f"consignment {consignment.code}"
        sending = sendings.get(consignment.sent_event_id, {})
        yield from safely(
            ROOM, f"{thing}, event {consignment.sent_event_id}", _sent(thing, consignment, sending, replayed)
        )


def _sent(
    thing: str, consignment: Consignment, sending: dict[str, Any], replayed: dict[int, _Line]
) -> Iterator[Difference]:
    rows = sorted(consignment.lines.all(), key=lambda row: row.pk)
    sent = sending["told"]["lines"]
    scales = sending.get("scales", [{}] * len(sent))
    if len(rows) != len(sent):
        yield Difference(ROOM, thing, "lines", str(len(rows)), str(len(sent)))
        return
    for place, (row, line, scale) in enumerate(zip(rows, sent, scales, strict=True), start=1):
        yield from _line(f"{thing}, line {place}", row, line, scale, replayed.get(row.pk, _Line()))
    yield from _received_at(thing, consignment, [replayed.get(row.pk, _Line()) for row in rows])


def _lines(faults: list[Difference]) -> dict[int, _Line]:
    found: dict[int, _Line] = {}
    for event in readable(Event.objects.filter(kind__in=_KINDS)):
        with reading(event, ROOM, faults):
            _reported(event, found.setdefault(event.data["line"], _Line()))
    for event in readable(Event.objects.filter(kind="dispatch taken back")):
        with reading(event, ROOM, faults):
            for line_id in event.data["lines"]:
                line = found.setdefault(line_id, _Line())
                line.closed, line.closed_at, line.closed_in = True, event.happened_at, event.pk
                line.taken_back = event.pk
    return found


def _reported(event: Event, line: _Line) -> None:
    if event.kind == "difference settled":
        line.settled = event.pk
        return
    booking = event.data["booking"]
    line.received, line.difference = booking["received"], booking["difference"]
    line.misdirected = booking.get("misdirected", 0)
    line.scale = event.data.get("scale", {})
    if booking["closed"] and not line.closed:
        line.closed, line.closed_at, line.closed_in = True, event.happened_at, event.pk
    # A count made once more decides anew whether its difference is one to settle.
    line.settled = event.pk if booking["inside"] else None


def _line(
    thing: str, row: ConsignmentLine, sent: list[int | str], scale: dict[str, Any], replayed: _Line
) -> Iterator[Difference]:
    fields = {
        "lot": (row.lot_id, sent[0]),
        "sent": (row.sent, sent[1]),
        "from step": (row.from_step, sent[2]),
        "to step": (row.to_step, sent[3]),
        "received": (row.received, replayed.received),
        "misdirected": (row.misdirected, replayed.misdirected),
        "closed": (row.closed, replayed.closed),
        "difference": (row.difference, replayed.difference),
        "settled": (row.settled_event_id, replayed.settled),
        "taken back": (row.taken_back_event_id, replayed.taken_back),
        "sent by scale": (row.sent_scale, scale),
        "received by scale": (row.received_scale, replayed.scale),
    }
    for name, (stored, rebuilt) in fields.items():
        if stored != rebuilt:
            yield Difference(ROOM, thing, name, str(stored), str(rebuilt))


def _received_at(thing: str, consignment: Consignment, lines: list[_Line]) -> Iterator[Difference]:
    """Received when its last line was closed."""
    done = bool(lines) and all(line.closed for line in lines)
    last = max(lines, key=lambda line: line.closed_in).closed_at if done else None
    if consignment.received_at != last:
        yield Difference(ROOM, thing, "received", str(consignment.received_at), str(last))
