"""A consignment's dispatch note: from rows to the dataclass that traveller.paper draws."""

from __future__ import annotations

from sites.models import Site
from traveller.dispatches.actions.dispatch import next_note_serial
from traveller.dispatches.models import Consignment
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.paper.canvas import PaperSize
from traveller.paper.dispatch_note import DispatchLine, DispatchNote, NotePurpose, Party, draw_dispatch_note
from traveller.paper.words import UNITS, clock_on_paper, day_on_paper
from traveller.rules.codes import TravellerCode, show_code
from traveller.rules.moments import on_clocks

KIND = "note printed"
_COUNTED = {"hand": "by hand", "weight": "by weight", "shots": "by shots"}
PURPOSES: dict[str, NotePurpose] = {"return": "return", "free issue": "free issue", "stock": "stock"}


@action
def print_note(
    *, event_context: EventContext, consignment_id: int, public_address: str, size: PaperSize = "A4"
) -> bytes:
    """The sender's copy and the receiver's copy; the latter without quantities, since its count is blind."""
    if not public_address:
        raise Refused("no_public_address")
    reported = {"consignment": consignment_id, "size": size}
    consignment = Consignment.objects.select_related("subject", "origin", "destination", "sent_event").get(
        pk=consignment_id
    )
    if earlier(event_context, KIND, reported) is None:
        record(
            event_context=event_context,
            kind=KIND,
            subjects=[consignment.subject],
            reported=reported,
            site_id=consignment.origin_id,
            serial=next_note_serial(consignment),
        )
    return draw_dispatch_note(_note_of(consignment, public_address), size=size)


def _note_of(consignment: Consignment, public_address: str) -> DispatchNote:
    every = list(consignment.lines.select_related("lot__part", "taken_back_event").order_by("id"))
    struck = [line.taken_back_event for line in every if line.taken_back_event is not None]
    # Of a dispatch that was taken back in part, only what has left stands on the note.
    lines = [line for line in every if not line.taken_back_event_id] or every
    totes = [(line, quantity) for line in lines for quantity in line.totes or [line.sent]]
    return DispatchNote(
        number=show_code(TravellerCode(consignment.code)),
        code=TravellerCode(consignment.code),
        public_address=public_address,
        sender=_party(consignment.origin),
        receiver=_party(consignment.destination),
        sent_at=on_clocks(consignment.sent_at, consignment.origin.zone),
        carrier=consignment.carrier,
        sent_by=consignment.sent_event.person,
        purpose=PURPOSES.get(consignment.purpose, "processing"),
        returnables=consignment.returnables,
        remarks=consignment.note,
        struck=_struck(struck, len(every), consignment.origin) if struck else "",
        lines=tuple(
            DispatchLine(
                tote=str(number),
                lot=show_code(TravellerCode(line.lot.code)),
                what=line.lot.part.title,
                quantity=quantity,
                unit=UNITS[line.lot.part.unit],
                how_counted=_how(line.sent_method, line.sent_sample),
                property_of=consignment.owner,
            )
            for number, (line, quantity) in enumerate(totes, 1)
        ),
    )


def _struck(events: list[Event], lines: int, origin: Site) -> str:
    """That the note does not count, or that it does not name all that it named at first."""
    at = on_clocks(events[-1].happened_at, origin.zone)
    when = f"{day_on_paper(at)}, {clock_on_paper(at)}"
    if len(events) < lines:
        return f"{len(events)} of {lines} lines taken back {when}: they are not on this note."
    return f"TAKEN BACK {when}: nothing left. This note does not count."


def _how(method: str, sample: int) -> str:
    return _COUNTED[method] + (f", sample of {sample}" if sample else "")


def _party(site: Site) -> Party:
    return Party(name=site.name, address=tuple(site.address.splitlines()), phone=site.phone)
