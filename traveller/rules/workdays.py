"""When is a shop open? Working days and working time over shifts, closures, zones and clock changes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo

from traveller.rules.shifts import ShiftError, Shifts, parse_shifts

__all__ = [
    "NeverOpen",
    "ShiftError",
    "Shifts",
    "SiteCalendar",
    "add_working_days",
    "add_working_minutes",
    "is_open_day",
    "next_open_day",
    "parse_shifts",
    "previous_open_day",
    "shift_spans",
    "working_days_between",
    "working_minutes_between",
]

# Beyond this a calendar is taken as closed for good, so that no search runs for ever.
_HORIZON_DAYS = 1100
_DAY = timedelta(days=1)
_MINUTE = timedelta(minutes=1)


class NeverOpen(ValueError):
    """A calendar without an open day within three years was asked when it is open."""


@dataclass(frozen=True, slots=True)
class SiteCalendar:
    """A site's zone, its shifts by weekday (0 = Monday) and the dates on which none of them starts."""

    tz: str
    shifts: Shifts
    closed: frozenset[date] = frozenset()


@cache
def _zone(name: str) -> ZoneInfo:
    return ZoneInfo(name)


def is_open_day(calendar: SiteCalendar, day: date) -> bool:
    """Whether any shift starts on this date."""
    return bool(calendar.shifts.get(day.weekday())) and day not in calendar.closed


def _step_to_open(calendar: SiteCalendar, day: date, direction: timedelta) -> date:
    """The day itself if open, else the nearest open one in that direction."""
    for _ in range(_HORIZON_DAYS):
        if is_open_day(calendar, day):
            return day
        day += direction
    raise NeverOpen(f"no open day within {_HORIZON_DAYS} days up to {day}")


def next_open_day(calendar: SiteCalendar, day: date) -> date:
    """The day itself if open, else the first open day after it."""
    return _step_to_open(calendar, day, _DAY)


def previous_open_day(calendar: SiteCalendar, day: date) -> date:
    """The day itself if open, else the last open day before it."""
    return _step_to_open(calendar, day, -_DAY)


def add_working_days(calendar: SiteCalendar, day: date, days: int) -> date:
    """The date so many open days after (or, negative, before) a day; the day itself is not counted."""
    direction = _DAY if days >= 0 else -_DAY
    for _ in range(abs(days)):
        day = _step_to_open(calendar, day + direction, direction)
    return day


def working_days_between(calendar: SiteCalendar, first: date, last: date) -> int:
    """Open days from first to last, both counted; 0 when last comes before first."""
    span = max((last - first).days + 1, 0)
    # By whole weeks: an old row may lie centuries back.
    weeks, rest = divmod(span, 7)
    open_days = [day for day in range(7) if calendar.shifts.get(day)]
    worked = weeks * len(open_days) + sum((first.weekday() + n) % 7 in open_days for n in range(rest))
    return worked - sum(first <= day <= last and day.weekday() in open_days for day in calendar.closed)


def _span(calendar: SiteCalendar, day: date, start: time, end: time) -> tuple[datetime, datetime]:
    """One shift of one date as UTC instants: the only form in which differences are true.

    A time that the clocks skip is read with the offset before the change, one that comes twice as the
    first: so shifts that touch on the clock touch in truth.
    """
    zone = _zone(calendar.tz)
    end_day = day if end > start else day + _DAY
    begins = datetime.combine(day, start, zone).astimezone(UTC)
    return begins, max(begins, datetime.combine(end_day, end, zone).astimezone(UTC))


def shift_spans(calendar: SiteCalendar, day: date) -> tuple[tuple[datetime, datetime], ...]:
    """The shifts that start on this date as (start, end) in UTC; a night shift ends on the next date."""
    if not is_open_day(calendar, day):
        return ()
    return tuple(_span(calendar, day, start, end) for start, end in calendar.shifts[day.weekday()])


def _instant(at: datetime) -> datetime:
    if at.tzinfo is None:
        raise ValueError("a time without a zone says nothing about a shift")
    return at.astimezone(UTC)


def _local_day(calendar: SiteCalendar, at: datetime) -> date:
    return at.astimezone(_zone(calendar.tz)).date()


def _spans_after(calendar: SiteCalendar, at: datetime) -> Iterator[tuple[datetime, datetime]]:
    """Spans that end after `at`, in order, cut so that none starts before it."""
    day = _local_day(calendar, at) - _DAY  # last night's shift may still run
    idle = 0
    while idle < _HORIZON_DAYS:
        spans = shift_spans(calendar, day)
        idle = 0 if spans else idle + 1
        yield from ((max(start, at), end) for start, end in spans if end > at)
        day += _DAY
    raise NeverOpen(f"no open day within {_HORIZON_DAYS} days up to {day}")


def _spans_before(calendar: SiteCalendar, at: datetime) -> Iterator[tuple[datetime, datetime]]:
    """Spans that start before `at`, latest first, cut so that none ends after it."""
    day = _local_day(calendar, at)
    idle = 0
    while idle < _HORIZON_DAYS:
        spans = shift_spans(calendar, day)
        idle = 0 if spans else idle + 1
        yield from ((start, min(end, at)) for start, end in reversed(spans) if start < at)
        day -= _DAY
    raise NeverOpen(f"no open day within {_HORIZON_DAYS} days down to {day}")


def working_minutes_between(calendar: SiteCalendar, start: datetime, end: datetime) -> int:
    """Whole minutes inside shifts between two aware times; negative when end comes before start."""
    first, last = _instant(start), _instant(end)
    if last < first:
        return -working_minutes_between(calendar, last, first)
    worked = timedelta()
    day, last_day = _local_day(calendar, first) - _DAY, _local_day(calendar, last)
    while day <= last_day:
        for begins, ends in shift_spans(calendar, day):
            worked += max(timedelta(), min(ends, last) - max(begins, first))
        day += _DAY
    return worked // _MINUTE


def add_working_minutes(calendar: SiteCalendar, at: datetime, minutes: int) -> datetime:
    """The earliest time (UTC) by which so many minutes have been worked since `at`.

    Negative minutes: the latest time from which they are still worked by `at`. 0 gives `at` itself.
    """
    at = _instant(at)
    left = abs(minutes) * _MINUTE
    if not left:
        return at
    for start, end in _spans_after(calendar, at) if minutes > 0 else _spans_before(calendar, at):
        if end - start >= left:
            return start + left if minutes > 0 else end - left
        left -= end - start
    raise NeverOpen("no working time")
