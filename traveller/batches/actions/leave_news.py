"""News that was set aside is not booked: the founder found that it says what is recorded already, or what is wrong."""

from __future__ import annotations

from traveller.batches.history.for_review import LEFT, for_review_locked
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record, settle_parked
from traveller.journal.refusal import refuse_without


@action
def leave_news(*, event_context: EventContext, for_review_id: int, reason: str) -> Event:
    """What the phone said stays in the record, with the reason why it was not booked."""
    reported = {"aside": for_review_id, "reason": reason}
    if before := earlier(event_context, LEFT, reported):
        return before
    refuse_without(reason)
    parked, subjects = for_review_locked(for_review_id)
    event = record(
        event_context=event_context, kind=LEFT, subjects=subjects, reported=reported, site_id=parked.event.site_id
    )
    settle_parked(parked, event)
    return event
