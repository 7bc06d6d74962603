"""News that was set aside is booked: the founder took it, or its cause came. Called once it has been told."""

from __future__ import annotations

from traveller.batches.history.for_review import TAKEN, for_review_locked
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record, settle_parked


@action
def take_news(*, event_context: EventContext, for_review_id: int, came: bool = False) -> Event:
    """Nothing waits any more. `came`: nobody decided, what it waited for was told."""
    reported = {"aside": for_review_id, "came": came}
    if before := earlier(event_context, TAKEN, reported):
        return before
    parked, subjects = for_review_locked(for_review_id)
    event = record(
        event_context=event_context, kind=TAKEN, subjects=subjects, reported=reported, site_id=parked.event.site_id
    )
    settle_parked(parked, event)
    return event
