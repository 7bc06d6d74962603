"""News that was set aside is not booked: the founder found that it says what is recorded already, or what is wrong."""

from __future__ import annotations

from traveller.batches.history.aside import LEFT, aside_locked
from traveller.journal.deed import deed
from traveller.journal.models import Event
from traveller.journal.record import earlier, record, settle
from traveller.journal.refusal import refuse_without
from traveller.journal.stamp import Stamp


@deed
def leave_news(*, stamp: Stamp, aside_id: int, reason: str) -> Event:
    """What the phone said stays in the record, with the reason why it was not booked."""
    told = {"aside": aside_id, "reason": reason}
    if before := earlier(stamp, LEFT, told):
        return before
    refuse_without(reason)
    parked, subjects = aside_locked(aside_id)
    event = record(stamp=stamp, kind=LEFT, subjects=subjects, told=told, site_id=parked.event.site_id)
    settle(parked, event)
    return event
