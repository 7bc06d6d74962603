"""A shop says what it calls a lot in its own books, so that either can be found by the other's number."""

from __future__ import annotations

from traveller.batches.models import OwnNumber
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import batch_locked, lot_of
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused

KIND = "own number told"
NUMBER_MOST = 60


@action
def tell_number(*, event_context: EventContext, batch_id: int, site_id: int, number: str) -> Answer:
    """Told with a count or an arrival, or by itself; the same number again changes nothing."""
    number = " ".join(number.split())
    reported = {"batch": batch_id, "number": number}
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    if not number or len(number) > NUMBER_MOST:
        raise Refused("number_needed", most=NUMBER_MOST)
    batch = batch_locked(batch_id)
    known = OwnNumber.objects.filter(lot=batch.lot_id or 0, site_id=site_id, number=number).select_related("event")
    row = known.first()
    if row:
        return Answer(row.event, repeated=True)
    event = record(
        event_context=event_context, kind=KIND, subjects=[batch.subject_id], reported=reported, site_id=site_id
    )
    OwnNumber.objects.create(lot=lot_of(batch, event), site_id=site_id, number=number, event=event)
    return Answer(event)
