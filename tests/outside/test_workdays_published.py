"""Working days and clock changes against published tables."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest

from traveller.rules.workdays import (
    SiteCalendar,
    add_working_days,
    is_open_day,
    shift_spans,
    working_days_between,
    working_minutes_between,
)

ALL_DAY = ((time(0), time(0)),)
HOLIDAYS = (date(2008, 11, 26), date(2008, 12, 4), date(2009, 1, 21))


def weekdays(closed: tuple[date, ...] = ()) -> SiteCalendar:
    return SiteCalendar("UTC", dict.fromkeys(range(5), ((time(8), time(16)),)), frozenset(closed))


@pytest.mark.parametrize(
    ("first", "last", "closed", "days"),
    [
        (date(2008, 10, 1), date(2009, 3, 1), (), 108),
        (date(2008, 10, 1), date(2009, 3, 1), HOLIDAYS[:1], 107),
        (date(2008, 10, 1), date(2009, 3, 1), HOLIDAYS, 105),
        (date(2014, 1, 15), date(2014, 6, 30), (), 119),
    ],
)
def test_working_days_with_both_ends_counted(first: date, last: date, closed: tuple[date, ...], days: int) -> None:
    # Office help, "NETWORKDAYS function", example table: 108 and 107 read, 105 computed; 119 read in a tutorial
    # on date functions (jabsto.com). numpy's business-day count agrees with all.
    assert working_days_between(weekdays(closed), first, last) == days


@pytest.mark.parametrize(("closed", "expected"), [((), date(2009, 4, 30)), (HOLIDAYS, date(2009, 5, 5))])
def test_the_date_after_151_working_days(closed: tuple[date, ...], expected: date) -> None:
    # Office help, "WORKDAY function": from memory; numpy agrees.
    assert add_working_days(weekdays(closed), date(2008, 10, 1), 151) == expected


@pytest.mark.parametrize(
    ("zone", "spring", "autumn"),
    [
        ("Europe/Berlin", "2026-03-29T01:00", "2026-10-25T01:00"),
        ("Europe/London", "2026-03-29T01:00", "2026-10-25T01:00"),
        ("America/New_York", "2026-03-08T07:00", "2026-11-01T06:00"),
        ("America/Chicago", "2026-03-08T08:00", "2026-11-01T07:00"),
        ("America/Los_Angeles", "2026-03-08T10:00", "2026-11-01T09:00"),
    ],
)
def test_the_days_of_the_clock_changes_of_2026_have_23_and_25_hours(zone: str, spring: str, autumn: str) -> None:
    # IANA time zone database; the European rule and both pairs of dates read in a table of 2026 changes
    # (time.is), the instants from the zone data.
    site = SiteCalendar(zone, dict.fromkeys(range(7), ALL_DAY))
    for text, hours in ((spring, 23), (autumn, 25)):
        change = datetime.fromisoformat(text).replace(tzinfo=UTC)
        ((start, end),) = shift_spans(site, change.date())
        assert end - start == timedelta(hours=hours)
        assert start < change < end


@pytest.mark.parametrize(
    ("start", "end", "hours"),
    [("2026-03-28T21:00", "2026-03-29T04:00", 7), ("2026-10-24T20:00", "2026-10-25T05:00", 9)],
)
def test_an_oven_shift_across_a_clock_change_has_its_true_hours(start: str, end: str, hours: int) -> None:
    # 22:00 to 06:00 in Berlin: 8 hours on the clock, 7 and 9 in truth (IANA zone data; computed).
    site = SiteCalendar("Europe/Berlin", {5: ((time(22), time(6)),)})
    first, last = (datetime.fromisoformat(text).replace(tzinfo=UTC) for text in (start, end))
    assert shift_spans(site, first.date()) == ((first, last),)
    assert working_minutes_between(site, first, last) == hours * 60


def test_a_shop_closed_on_federal_holidays_is_closed_on_them() -> None:
    # US federal holidays 2026 (OPM dates, read in copies by municipal calendars).
    dates = ("01-01", "01-19", "02-16", "05-25", "06-19", "07-03", "09-07", "10-12", "11-11", "11-26", "12-25")
    holidays = tuple(date.fromisoformat(f"2026-{day}") for day in dates)
    shop = weekdays(holidays)
    assert not any(is_open_day(shop, day) for day in holidays)
    # 2026 has 261 Mondays to Fridays (365 days from a Thursday to a Thursday), all eleven fall on them.
    assert working_days_between(shop, date(2026, 1, 1), date(2026, 12, 31)) == 261 - 11
