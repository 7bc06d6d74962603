"""To which shift a moment belongs: breaks, nights, clock changes, days off."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.shift_periods import Period, shift_periods
from traveller.rules.shifts import ShiftError, parse_shifts
from traveller.rules.workdays import SiteCalendar

BERLIN = ZoneInfo("Europe/Berlin")


def calendar(shifts: str, tz: str = "Europe/Berlin", closed: frozenset[date] = frozenset()) -> SiteCalendar:
    found = parse_shifts(shifts) if shifts else {}
    assert not isinstance(found, ShiftError)
    return SiteCalendar(tz, found, closed)


def local(period: Period) -> tuple[str, str]:
    return tuple(f"{at.astimezone(BERLIN):%d %H:%M}" for at in (period.start, period.end))  # type: ignore[return-value]


def at(day: int, hour: int, minute: int = 0, month: int = 3) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=BERLIN)


def of(shifts: str, moment: datetime, closed: frozenset[date] = frozenset()) -> tuple[str, str]:
    (found,) = [p for p in shift_periods(calendar(shifts, closed=closed), moment, moment) if p.holds(moment)]
    return local(found)


@pytest.mark.parametrize(
    ("shifts", "moment", "shift"),
    [
        ("Mo-Fr 08:00-16:30", at(3, 9), ("03 08:00", "03 16:30")),
        # A break of an hour parts no shift, one of two hours does.
        ("Mo-Fr 08:00-12:00 13:00-16:30", at(3, 12, 30), ("03 08:00", "03 16:30")),
        ("Mo-Fr 08:00-12:00 14:00-18:00", at(3, 15), ("03 14:00", "03 18:00")),
        # Shifts that touch: the moment of the change is the new one's.
        ("Mo-Su 06:00-14:00 14:00-22:00 22:00-06:00", at(3, 13, 59), ("03 06:00", "03 14:00")),
        ("Mo-Su 06:00-14:00 14:00-22:00 22:00-06:00", at(3, 14), ("03 14:00", "03 22:00")),
        # Across midnight.
        ("Mo-Su 06:00-14:00 14:00-22:00 22:00-06:00", at(4, 5, 59), ("03 22:00", "04 06:00")),
        # Early and late work belongs to the shift that is nearer.
        ("Mo-Fr 08:00-16:00", at(3, 7), ("03 08:00", "03 16:00")),
        ("Mo-Fr 08:00-16:00", at(3, 20), ("03 08:00", "03 16:00")),
        ("Mo-Fr 08:00-16:00", at(4, 1), ("04 08:00", "04 16:00")),
        # Overtime on a Saturday is a day of its own, and so is every day where no hours are written.
        ("Mo-Fr 08:00-16:00", at(7, 9), ("07 00:00", "08 00:00")),
        ("", at(3, 23, 59), ("03 00:00", "04 00:00")),
        ("", at(4, 0), ("04 00:00", "05 00:00")),
        # The night from Friday takes the first hours of Saturday.
        ("Mo-Fr 22:00-06:00", at(7, 5), ("06 22:00", "07 06:00")),
        ("Mo-Fr 22:00-06:00", at(7, 9), ("07 06:00", "08 00:00")),
    ],
)
def test_a_moment_belongs_to_a_shift(shifts: str, moment: datetime, shift: tuple[str, str]) -> None:
    assert of(shifts, moment) == shift


def test_a_holiday_is_a_day_of_its_own() -> None:
    assert of("Mo-Fr 08:00-16:00", at(3, 9), frozenset({date(2026, 3, 3)})) == ("03 00:00", "04 00:00")


@pytest.mark.parametrize(("day", "month", "hours"), [(28, 3, 7), (24, 10, 9)])
def test_a_night_shift_across_a_clock_change_is_an_hour_shorter_or_longer(day: int, month: int, hours: int) -> None:
    """Europe: 29 March and 25 October 2026 (IANA time zone database)."""
    moment = at(day, 23, month=month)
    found = shift_periods(calendar("Mo-Su 22:00-06:00"), moment, moment + timedelta(hours=4))
    (night,) = [period for period in found if period.holds(moment)]
    assert night.end - night.start == timedelta(hours=hours)


@given(
    st.sampled_from(["", "Mo-Fr 08:00-16:30", "Mo-Su 06:00-14:00 14:00-22:00 22:00-06:00", "Sa-Mo 20:00-02:00"]),
    st.integers(0, 330 * 24 * 60),
    st.integers(0, 14 * 24 * 60),
)
def test_periods_cover_all_time_once_and_in_order(shifts: str, begins: int, minutes: int) -> None:
    first = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=begins)
    last = first + timedelta(minutes=minutes)
    found = shift_periods(calendar(shifts), first, last)
    assert found[0].holds(first) and found[-1].holds(last)
    assert all(before.until == after.from_ for before, after in pairwise(found))
    assert all(one.from_ <= one.start < one.end <= one.until for one in found)
