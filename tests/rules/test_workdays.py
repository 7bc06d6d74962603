"""Working days and working time: additive, and true across clock changes."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from traveller.rules.workdays import (
    NeverOpen,
    ShiftError,
    SiteCalendar,
    add_working_days,
    add_working_minutes,
    is_open_day,
    next_open_day,
    parse_shifts,
    shift_spans,
    working_days_between,
    working_minutes_between,
)


def calendar(hours: str, tz: str = "Europe/Berlin", closed: frozenset[date] = frozenset()) -> SiteCalendar:
    shifts = parse_shifts(hours)
    assert not isinstance(shifts, ShiftError)
    return SiteCalendar(tz, shifts, closed)


BERLIN = ZoneInfo("Europe/Berlin")
OFFICE = calendar("Mo-Fr 08:00-16:30, Sa 08:00-12:00", closed=frozenset({date(2026, 5, 1)}))
CALENDARS = [
    OFFICE,
    calendar("Mo-Su 00:00-24:00"),
    calendar("Sa-Su 22:00-06:00, We 09:00-12:00 13:00-15:30"),
    calendar("Mo-Fr 07:00-15:00", "America/Chicago"),
    calendar("Su 01:00-02:30 02:30-04:00", "America/New_York"),
]
calendars = st.sampled_from(CALENDARS)
# Both clock changes of 2026 of both continents lie inside.
instants = st.integers(0, 400 * 24 * 60).map(lambda n: datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=n))
days = st.dates(date(2026, 1, 1), date(2027, 2, 1))
spans_minutes = st.integers(1, 6000)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=BERLIN)


def test_a_closed_date_and_a_day_without_shifts_are_not_open() -> None:
    assert is_open_day(OFFICE, date(2026, 4, 30))
    assert not is_open_day(OFFICE, date(2026, 5, 1))
    assert not is_open_day(OFFICE, date(2026, 5, 3))
    assert next_open_day(OFFICE, date(2026, 5, 1)) == date(2026, 5, 2)
    assert next_open_day(OFFICE, date(2026, 5, 2)) == date(2026, 5, 2)


def test_working_minutes_stop_at_night_and_over_a_closed_date() -> None:
    assert working_minutes_between(OFFICE, at("2026-04-30T16:00"), at("2026-05-02T09:00")) == 30 + 60
    assert working_minutes_between(OFFICE, at("2026-05-02T09:00"), at("2026-04-30T16:00")) == -90


def test_a_night_shift_belongs_to_the_day_on_which_it_starts() -> None:
    nights = calendar("Mo-Th 22:00-06:00", closed=frozenset({date(2026, 6, 3)}))
    # Tuesday's night runs into the closed Wednesday; Wednesday's own does not start.
    assert working_minutes_between(nights, at("2026-06-03T00:00"), at("2026-06-04T12:00")) == 6 * 60
    assert shift_spans(nights, date(2026, 6, 3)) == ()


@pytest.mark.parametrize(("night", "minutes"), [("2026-03-28", 7 * 60), ("2026-10-24", 9 * 60)])
def test_a_night_shift_over_a_clock_change_is_as_long_as_it_was_worked(night: str, minutes: int) -> None:
    nights = calendar("Sa 22:00-06:00")
    start = datetime.combine(date.fromisoformat(night), time(22), BERLIN)
    assert working_minutes_between(nights, start, start.astimezone(UTC) + timedelta(hours=20)) == minutes
    assert add_working_minutes(nights, start, minutes) == start.astimezone(UTC) + timedelta(minutes=minutes)


def test_a_shift_inside_the_hour_that_the_clocks_skip_is_not_worked() -> None:
    lost = calendar("Su 02:00-03:00")
    assert working_minutes_between(lost, at("2026-03-29T00:00"), at("2026-03-29T12:00")) == 0
    assert working_minutes_between(lost, at("2026-03-22T00:00"), at("2026-03-22T12:00")) == 60


def test_working_minutes_end_with_a_shift_rather_than_at_the_next_opening() -> None:
    assert add_working_minutes(OFFICE, at("2026-04-29T16:00"), 30) == at("2026-04-29T16:30")
    assert add_working_minutes(OFFICE, at("2026-04-29T16:00"), 31) == at("2026-04-30T08:01")
    assert add_working_minutes(OFFICE, at("2026-05-02T09:00"), -61) == at("2026-04-30T16:29")
    assert add_working_minutes(OFFICE, at("2026-05-03T09:00"), 0) == at("2026-05-03T09:00")


@settings(max_examples=60)
@given(calendars, instants, instants, instants)
def test_working_time_adds_up_over_any_point_between(cal: SiteCalendar, a: datetime, b: datetime, c: datetime) -> None:
    whole = working_minutes_between(cal, a, c)
    assert whole == working_minutes_between(cal, a, b) + working_minutes_between(cal, b, c)
    assert abs(whole) <= abs(c - a) / timedelta(minutes=1)


@settings(max_examples=60)
@given(calendars, instants, spans_minutes)
def test_adding_working_minutes_gives_the_earliest_time_by_which_they_are_worked(
    cal: SiteCalendar, start: datetime, minutes: int
) -> None:
    end = add_working_minutes(cal, start, minutes)
    assert working_minutes_between(cal, start, end) == minutes
    assert working_minutes_between(cal, start, end - timedelta(minutes=1)) == minutes - 1


@settings(max_examples=60)
@given(calendars, instants, spans_minutes)
def test_taking_working_minutes_off_gives_the_latest_time_from_which_they_are_worked(
    cal: SiteCalendar, end: datetime, minutes: int
) -> None:
    start = add_working_minutes(cal, end, -minutes)
    assert working_minutes_between(cal, start, end) == minutes
    assert working_minutes_between(cal, start + timedelta(minutes=1), end) == minutes - 1


@settings(max_examples=60)
@given(calendars, days, st.integers(1, 60))
def test_adding_working_days_passes_just_so_many_open_days(cal: SiteCalendar, day: date, count: int) -> None:
    later = add_working_days(cal, day, count)
    assert is_open_day(cal, later)
    assert working_days_between(cal, day + timedelta(days=1), later) == count
    earlier = add_working_days(cal, day, -count)
    assert is_open_day(cal, earlier)
    assert working_days_between(cal, earlier, day - timedelta(days=1)) == count
    assert add_working_days(cal, day, 0) == day


def test_a_site_that_never_opens_is_said_so_instead_of_searched_for_ever() -> None:
    never = SiteCalendar("Europe/Berlin", {})
    assert working_minutes_between(never, at("2026-01-01T00:00"), at("2026-02-01T00:00")) == 0
    with pytest.raises(NeverOpen):
        next_open_day(never, date(2026, 1, 1))
    for minutes in (1, -1):
        with pytest.raises(NeverOpen):
            add_working_minutes(never, at("2026-01-01T00:00"), minutes)


def test_a_time_without_a_zone_is_a_fault() -> None:
    naive = datetime(2026, 1, 1, 12)  # noqa: DTZ001 (the fault under test)
    with pytest.raises(ValueError, match="without a zone"):
        add_working_minutes(OFFICE, naive, 5)
    with pytest.raises(ValueError, match="without a zone"):
        working_minutes_between(OFFICE, naive, naive)
