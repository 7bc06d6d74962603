"""News that was set aside is not booked: the founder found that it says what is recorded already, or what is wrong."""

from __future__ import annotations

from traveller.batches.history.aside import LEFT, aside_locked
from traveller.journal.deed import deed
from traveller.journal.models import Event
from traveller.journal.record import earlier, record, settle
from traveller.journal.refusal import Refused
from traveller.journal.stamp import Stamp


@deed
def leave_news(*, stamp: Stamp, aside_id: int, reason: str) -> Event:
    """What the phone said stays in the record, with the reason why it was not booked."""
    told = {"aside": aside_id, "reason": reason}
    before = earlier(stamp, LEFT, told)
    if before:
        return before
    if not reason.strip():
        raise Refused("reason_needed")
    parked, subjects = aside_locked(aside_id)
    event = record(stamp=stamp, kind=LEFT, subjects=subjects, told=told, site_id=parked.event.site_id)
    settle(parked, event)
    return event
