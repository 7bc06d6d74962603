"""The moments that news may be of, and clocks that never fail at the edge of the calendar.

Python's calendar ends with the years 1 and 9999: to show one of their last days on the clocks of another zone, or to
add a day to it, is an error. What comes in is held to this trade's time; what stands in an old record is shown as well
as it can be.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import TypeVar

# No batch of ours is older; an earlier year is a slip of the thumb. No plan reaches further.
EARLIEST = datetime(2000, 1, 1, tzinfo=UTC)
LATEST = datetime(2199, 12, 31, 23, 59, 59, tzinfo=UTC)
Day = TypeVar("Day", date, datetime)


def in_utc(moment: datetime) -> datetime | None:
    """An aware moment in UTC; None beyond the edge of the calendar."""
    try:
        return moment.astimezone(UTC)
    except OverflowError:
        return None


def plausible(moment: datetime) -> bool:
    """Within this trade's time?"""
    at = in_utc(moment)
    return at is not None and EARLIEST <= at <= LATEST


def read_moment(text: str) -> datetime | None:
    """A moment as it was written down, with its offset; None for what is none, or lies beyond this trade's time."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return None
    return found if found.tzinfo and plausible(found) else None


def on_clocks(moment: datetime, zone: tzinfo) -> datetime:
    """An aware moment on the clocks of a zone; at the edge of the calendar as it was told."""
    try:
        return moment.astimezone(zone)
    except OverflowError:
        return moment


def later(moment: Day, by: timedelta) -> Day:
    """A moment or day so much later (or earlier), but never beyond the edge of the calendar."""
    try:
        return moment + by
    except OverflowError:
        pass
    edge = type(moment).max if by > timedelta() else type(moment).min
    return edge.replace(tzinfo=moment.tzinfo) if isinstance(moment, datetime) and isinstance(edge, datetime) else edge
