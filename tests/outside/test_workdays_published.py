"""Working days and clock changes against published tables."""

from __future__ import annotations

import itertools
from datetime import UTC, date, datetime, time, timedelta

import pytest

from tests.outside.altered import Case, Check
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


# Office help, "NETWORKDAYS function", example table: 108 and 107 read, 105 computed; 119 read in a tutorial on date
# functions (jabsto.com). numpy's business-day count agrees with all. Both ends are counted.
COUNTED = [
    Case((date(2008, 10, 1), date(2009, 3, 1), ()), 108),
    Case((date(2008, 10, 1), date(2009, 3, 1), HOLIDAYS[:1]), 107),
    Case((date(2008, 10, 1), date(2009, 3, 1), HOLIDAYS), 105),
    Case((date(2014, 1, 15), date(2014, 6, 30), ()), 119),
]


def counts_agree(case: Case) -> None:
    first, last, closed = case.given
    assert working_days_between(weekdays(closed), first, last) == case.published


# Office help, "WORKDAY function": from memory; numpy agrees. After 1 October 2008.
AFTER = [Case((151, ()), date(2009, 4, 30)), Case((151, HOLIDAYS), date(2009, 5, 5))]


def dates_agree(case: Case) -> None:
    days, closed = case.given
    assert add_working_days(weekdays(closed), date(2008, 10, 1), days) == case.published


# IANA time zone database; the European rule and both pairs of dates read in a table of 2026 changes (time.is), the
# instants from the zone data. Hours of the day on which the clock is changed, and the instant in between.
CHANGES = [
    Case((zone, text), (datetime.fromisoformat(text).date(), hours))
    for zone, spring, autumn in (
        ("Europe/Berlin", "2026-03-29T01:00", "2026-10-25T01:00"),
        ("Europe/London", "2026-03-29T01:00", "2026-10-25T01:00"),
        ("America/New_York", "2026-03-08T07:00", "2026-11-01T06:00"),
        ("America/Chicago", "2026-03-08T08:00", "2026-11-01T07:00"),
        ("America/Los_Angeles", "2026-03-08T10:00", "2026-11-01T09:00"),
    )
    for text, hours in ((spring, 23), (autumn, 25))
]


def changes_agree(case: Case) -> None:
    zone, text = case.given
    day, hours = case.published
    change = datetime.fromisoformat(text).replace(tzinfo=UTC)
    ((start, end),) = shift_spans(SiteCalendar(zone, dict.fromkeys(range(7), ALL_DAY)), day)
    assert end - start == timedelta(hours=hours)
    assert start < change < end


# 22:00 to 06:00 in Berlin: 8 hours on the clock, 7 and 9 in truth (IANA zone data; computed).
OVEN = [
    Case(("2026-03-28T21:00", "2026-03-29T04:00"), 7),
    Case(("2026-10-24T20:00", "2026-10-25T05:00"), 9),
]


def oven_shifts_agree(case: Case) -> None:
    site = SiteCalendar("Europe/Berlin", {5: ((time(22), time(6)),)})
    first, last = (datetime.fromisoformat(text).replace(tzinfo=UTC) for text in case.given)
    assert shift_spans(site, first.date()) == ((first, last),)
    assert working_minutes_between(site, first, last) == case.published * 60


# US federal holidays 2026 (OPM dates, read in copies by municipal calendars); 4 July is a Saturday, kept on the 3rd.
FEDERAL = [
    Case(
        2026,
        tuple(
            date(2026, month, day)
            for month, day in (
                (1, 1), (1, 19), (2, 16), (5, 25), (6, 19), (7, 3), (9, 7), (10, 12), (11, 11), (11, 26), (12, 25)
            )
        ),
    )
]  # fmt: skip


def nth(year: int, month: int, weekday: int, count: int) -> date:
    """The first, second ... such weekday (0 = Monday) of a month; -1: the last."""
    days = [date(year, month, 1) + timedelta(days=n) for n in range(31)]
    own = [day for day in days if day.month == month and day.weekday() == weekday]
    return own[count if count < 0 else count - 1]


def by_law(year: int) -> tuple[date, ...]:
    """5 U.S.C. 6103 (from memory): fixed days and nth weekdays; a Saturday's is kept on the Friday, a Sunday's on the
    Monday."""
    fixed = [date(year, month, day) for month, day in ((1, 1), (6, 19), (7, 4), (11, 11), (12, 25))]
    kept = [day - timedelta(days=1) if day.weekday() == 5 else day for day in fixed]
    kept = [day + timedelta(days=1) if day.weekday() == 6 else day for day in kept]
    moving = ((1, 0, 3), (2, 0, 3), (5, 0, -1), (9, 0, 1), (10, 0, 2), (11, 3, 4))
    return tuple(sorted([*kept, *(nth(year, *rule) for rule in moving)]))


def holidays_agree(case: Case) -> None:
    """A shop that is closed on the published days is closed on those that the law gives, and on no others."""
    shop = weekdays(case.published)
    first, last = date(case.given, 1, 1), date(case.given, 12, 31)
    legal = by_law(case.given)
    every = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    assert [day for day in every if day.weekday() < 5 and not is_open_day(shop, day)] == list(legal)
    # 2026 has 261 Mondays to Fridays (365 days from a Thursday to a Thursday).
    assert working_days_between(shop, first, last) == 261 - len(legal)
    for before, after in itertools.pairwise(legal):
        # From holiday to holiday: whole weeks of five and the days left over, neither end among them.
        open_days = sum(day.weekday() < 5 for day in every if before < day < after)
        assert working_days_between(shop, before, after) == open_days


PUBLISHED: dict[str, tuple[list[Case], Check]] = {
    "working days with both ends counted": (COUNTED, counts_agree),
    "the date after so many working days": (AFTER, dates_agree),
    "the days of the clock changes": (CHANGES, changes_agree),
    "oven shifts across a clock change": (OVEN, oven_shifts_agree),
    "federal holidays": (FEDERAL, holidays_agree),
}


@pytest.mark.parametrize("title", PUBLISHED)
def test_calendars_are_as_published(title: str) -> None:
    cases, check = PUBLISHED[title]
    for case in cases:
        check(case)


def test_two_holidays_moved_to_other_weekdays_are_noticed() -> None:
    (case,) = FEDERAL
    moved = list(case.published)
    moved[1], moved[6] = date(2026, 1, 20), date(2026, 9, 8)
    with pytest.raises(AssertionError):
        holidays_agree(Case(2026, tuple(moved)))
