"""Goods leave a site. Called inside an action by whoever has judged that they may go (batches.actions.send)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import uuid5

from django.db.models import F

from traveller.dispatches.actions.receive import Received, extras
from traveller.dispatches.actions.unannounced import leave_again, meet, waiting_arrivals
from traveller.dispatches.models import Consignment, ConsignmentLine, SentFor
from traveller.dispatches.weighed import kept_scale
from traveller.journal.event_context import EventContext
from traveller.journal.record import record
from traveller.journal.refusal import Refused
from traveller.journal.subjects import register
from traveller.ledger import holds
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Balances, Place, post

KIND = "sent"


@dataclass(frozen=True, slots=True)
class SendLine:
    """So many of a lot, taken from the shelf after `from_step`, for `to_step` there (0: to stock).

    A return may also take pieces that wait here: `condition` in process or rework, before step `from_step`.
    """

    lot_id: int
    quantity: int
    from_step: int = 0
    to_step: int = 0
    method: str = "hand"
    sample: int = 0
    condition: str = Condition.STOCK
    # The readings that the quantity was computed from, as they were typed; `totes`: the pieces in each.
    how: Mapping[str, Any] = field(default_factory=dict)

    def reported(self) -> list[object]:
        """As the journal keeps it: lot, pieces, steps, method, sample, condition and, where it was reckoned, how."""
        said: list[object] = [
            self.lot_id,
            self.quantity,
            self.from_step,
            self.to_step,
            self.method,
            self.sample,
            self.condition,
        ]
        return [*said, dict(self.how)] if self.how else said


@dataclass(frozen=True, slots=True)
class Papers:
    """What stands on the note beside the goods: who carries them, whose they are, what comes back empty, a remark;
    and whether the totes carry their quantity."""

    carrier: str = ""
    owner: str = ""
    returnables: str = ""
    note: str = ""
    shown: bool = False


def dispatch(
    *,
    event_context: EventContext,
    origin_id: int,
    destination_id: int,
    purpose: str,
    lines: Sequence[SendLine],
    papers: Papers,
) -> tuple[Consignment, list[Received]]:
    """Post the lines on the road and write the consignment; refuses held lots and more than is on the shelf.

    Goods may have been counted there before anybody told that they had left: those counts are booked now.
    """
    lots = {
        lot.pk: lot for lot in Lot.objects.filter(pk__in=[x.lot_id for x in lines]).select_related("part", "subject")
    }
    balances = Balances(lots)
    _refuse(lines, lots, purpose)
    subject = register(uuid5(event_context.uid, "consignment"), "consignment")
    scales = [kept_scale(lots[line.lot_id].part_id, line.method, line.how) for line in lines]
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[subject, *[lots[line.lot_id].subject for line in lines]],
        reported=as_reported(origin_id, destination_id, purpose, lines, papers),
        site_id=origin_id,
        consignment=subject.code,
        **extras(scales=scales if any(scales) else None),
    )
    moves = []
    for line in lines:
        shelf = Place(line.lot_id, origin_id, line.condition, line.from_step)
        moves += balances.transfer(shelf, shelf.become(Condition.ON_THE_ROAD, line.to_step), line.quantity)
    post(event, moves)
    consignment = Consignment.objects.create(
        subject=subject,
        code=subject.code or "",
        origin_id=origin_id,
        destination_id=destination_id,
        purpose=purpose,
        carrier=papers.carrier,
        owner=papers.owner,
        returnables=papers.returnables,
        note=papers.note,
        shown=papers.shown,
        sent_event=event,
        sent_at=event_context.at,
    )
    _write_lines(consignment, lines, scales)
    leave_again(event, lots)
    return consignment, meet(event_context, waiting_arrivals(lots))


def _write_lines(consignment: Consignment, lines: Sequence[SendLine], scales: Sequence[Mapping[str, Any]]) -> None:
    for line, scale in zip(lines, scales, strict=True):
        ConsignmentLine.objects.create(
            consignment=consignment,
            lot_id=line.lot_id,
            from_step=line.from_step,
            to_step=line.to_step,
            sent=line.quantity,
            sent_method=line.method,
            sent_sample=line.sample,
            sent_scale=scale,
            totes=list(line.how.get("totes", [])),
        )


def _refuse(lines: Sequence[SendLine], lots: Mapping[int, Lot], purpose: str) -> None:
    for line in lines:
        if line.quantity <= 0:
            raise Refused("not_a_quantity", found=line.quantity)
        if purpose != SentFor.RETURN:
            holds.refuse_if_held(lots[line.lot_id], "send")
            if line.condition != Condition.STOCK:
                raise Refused("not_on_a_shelf", condition=line.condition)


def as_reported(
    origin_id: int, destination_id: int, purpose: str, lines: Sequence[SendLine], papers: Papers
) -> dict[str, object]:
    """What the journal keeps of a sending; whoever looks for it there again must say the same."""
    return {
        "origin": origin_id,
        "destination": destination_id,
        "purpose": purpose,
        "lines": [line.reported() for line in lines],
        "carrier": papers.carrier,
        "owner": papers.owner,
        **extras(returnables=papers.returnables, note=papers.note, shown=papers.shown),
    }


def next_note_serial(consignment: Consignment) -> int:
    """Count a print of the dispatch note."""
    Consignment.objects.filter(pk=consignment.pk).update(note_serial=F("note_serial") + 1)
    consignment.refresh_from_db(fields=["note_serial"])
    return consignment.note_serial
