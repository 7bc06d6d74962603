"""To which shift does a moment belong? Time parted at the shifts of a calendar, or by days where there are none."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from traveller.rules.workdays import SiteCalendar, shift_spans

__all__ = ["BREAK", "Period", "shift_periods"]

# Hours of one day with less than this between them are one shift with a break (common practice, no source).
BREAK = timedelta(hours=2)
_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Period:
    """A shift, and the time that belongs to it: what is worked before its start or after its end is its own too."""

    start: datetime
    end: datetime
    from_: datetime
    until: datetime

    def holds(self, moment: datetime) -> bool:
        """Whether a moment belongs to this shift."""
        return self.from_ <= moment < self.until


def shift_periods(calendar: SiteCalendar, first: datetime, last: datetime) -> tuple[Period, ...]:
    """Periods that cover all from `first` to `last`, in UTC, without gap or overlap.

    Shifts that touch stay apart; those of one day with a break between them are one. A day on which no shift starts
    and that no night shift takes up is a shift of its own, by the clock of the site: overtime on a Saturday is no
    Friday. Between two shifts time is parted in the middle.
    """
    zone = ZoneInfo(calendar.tz)
    day = first.astimezone(zone).date() - 2 * _DAY
    end = last.astimezone(zone).date() + 2 * _DAY
    shifts: list[tuple[datetime, datetime]] = []
    while day <= end:
        # What a night shift of the day before takes of this day is that shift's.
        shifts += _joined(shift_spans(calendar, day)) or _whole_day(zone, day, shifts)
        day += _DAY
    cuts = [max(before[1], after[0] - (after[0] - before[1]) / 2) for before, after in pairwise(shifts)]
    froms, untils = [shifts[0][0], *cuts], [*cuts, shifts[-1][1]]
    found = [Period(*shift, from_, until) for shift, from_, until in zip(shifts, froms, untils, strict=True)]
    return tuple(period for period in found if period.until > first and period.from_ <= last)


def _joined(spans: tuple[tuple[datetime, datetime], ...]) -> list[tuple[datetime, datetime]]:
    """The shifts of one day, those with a short break between them as one."""
    found: list[tuple[datetime, datetime]] = []
    for start, end in spans:
        if found and timedelta() < start - found[-1][1] < BREAK:
            found[-1] = (found[-1][0], end)
        else:
            found.append((start, end))
    return found


def _whole_day(zone: ZoneInfo, day: date, before: list[tuple[datetime, datetime]]) -> list[tuple[datetime, datetime]]:
    """Midnight to midnight by the site's clock, less what a shift took of it."""
    start = datetime.combine(day, time(), zone).astimezone(UTC)
    end = datetime.combine(day + _DAY, time(), zone).astimezone(UTC)
    start = max(start, before[-1][1]) if before else start
    return [(start, end)] if start < end else []
