"""What the journal knows of the server's clock, on which all proof of curing, drying and lateness hangs.

A time of recording never lies in the future, so a clock behind the newest one is wrong now or was wrong then.
Which of the two, people say: once said, what was recorded until then is no measure any more.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import Max

from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import refuse_without

WAS_WRONG, JUMPED, SEEN = "clock was wrong", "clock jumped", "clock jumps seen"
# Clocks that are set by the network swing by less.
TOLERANCE = timedelta(minutes=1)
# After that a jump is history: its traces stand in the journal.
SHOWN_FOR = timedelta(days=30)


def newest() -> datetime | None:
    """The newest time of recording since somebody last said that the clock was wrong; None in an empty journal."""
    said = Event.objects.filter(kind=WAS_WRONG).aggregate(last=Max("pk"))["last"] or 0
    found: datetime | None = Event.objects.filter(pk__gte=said).aggregate(newest=Max("recorded_at"))["newest"]
    return found


def behind(now: datetime) -> datetime | None:
    """The newest time of recording, if this clock is behind it by more than the tolerance."""
    found = newest()
    return found if found is not None and now < found - TOLERANCE else None


@action
def was_wrong(*, event_context: EventContext, reason: str) -> Event:
    """The clock is right now; what was recorded until now may carry a time that never was."""
    refuse_without(reason)
    found = newest()
    reported = {"reason": reason.strip()}
    if before := earlier(event_context, WAS_WRONG, reported):
        return before
    return record(
        event_context=event_context,
        kind=WAS_WRONG,
        subjects=[],
        reported=reported,
        newest=found.isoformat() if found else None,
    )


@action
def jumped(*, event_context: EventContext, seconds: int, machine: str) -> Event:
    """A running server noticed that its clock was set: forward by so many seconds, or back when negative."""
    reported = {"seconds": seconds, "machine": machine}
    return earlier(event_context, JUMPED, reported) or record(
        event_context=event_context, kind=JUMPED, subjects=[], reported=reported
    )


@action
def jumps_seen(*, event_context: EventContext, up_to: int) -> Event:
    """The founder has seen the jumps up to this event."""
    reported = {"up_to": up_to}
    return earlier(event_context, SEEN, reported) or record(
        event_context=event_context, kind=SEEN, subjects=[], reported=reported
    )


def jumps(now: datetime) -> list[Event]:
    """Jumps that nobody has said to have seen, the newest first; after a month they are history."""
    # Of no site, since a month: so that the index serves, and the first page does not read the whole journal.
    rows = Event.objects.filter(site=None, recorded_at__gt=now - SHOWN_FOR, kind__in=(JUMPED, SEEN))
    found: list[Event] = []
    for event in rows.order_by("pk"):
        if event.kind == JUMPED:
            found.append(event)
        else:
            found = [jump for jump in found if jump.pk > event.data["told"]["up_to"]]
    return found[::-1]
