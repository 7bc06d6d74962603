"""News that was set aside is booked: the founder took it, or its cause came. Called once it has been told."""

from __future__ import annotations

from traveller.batches.history.aside import TAKEN, aside_locked
from traveller.journal.deed import deed
from traveller.journal.models import Event
from traveller.journal.record import earlier, record, settle
from traveller.journal.stamp import Stamp


@deed
def take_news(*, stamp: Stamp, aside_id: int, came: bool = False) -> Event:
    """Nothing waits any more. `came`: nobody decided, what it waited for was told."""
    told = {"aside": aside_id, "came": came}
    if before := earlier(stamp, TAKEN, told):
        return before
    parked, subjects = aside_locked(aside_id)
    event = record(stamp=stamp, kind=TAKEN, subjects=subjects, told=told, site_id=parked.event.site_id)
    settle(parked, event)
    return event
