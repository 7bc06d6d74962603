"""Working days counted backward over shifts and closures."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sites.calendars import calendars_of
from tests import factory
from traveller.orders.calendars import Calendars, back
from traveller.orders.plan import make_plan
from traveller.rules.shifts import ShiftError, parse_shifts
from traveller.rules.workdays import SiteCalendar, is_open_day


def week(closed: set[date] | None = None) -> SiteCalendar:
    shifts = parse_shifts("Mo-Fr 08:00-16:30")
    assert not isinstance(shifts, ShiftError)
    return SiteCalendar("UTC", shifts, frozenset(closed or ()))


WEEK = week({date(2026, 3, 9), date(2026, 3, 10), date(2026, 3, 11)})


def test_counting_back_passes_over_weekends_and_closures() -> None:
    # Monday the 16th: Friday 13, Thursday 12, then closed 9 to 11 and a weekend: Friday 6.
    assert [back(WEEK, date(2026, 3, 16), days) for days in range(4)] == [
        date(2026, 3, 16),
        date(2026, 3, 13),
        date(2026, 3, 12),
        date(2026, 3, 6),
    ]
    assert back(WEEK, date(2026, 3, 15), 0) == date(2026, 3, 13)


@given(st.dates(date(2026, 1, 1), date(2027, 1, 1)), st.integers(0, 20), st.integers(0, 20))
def test_counting_back_in_two_goes_is_counting_back_in_one(day: date, some: int, more: int) -> None:
    there = back(WEEK, day, some + more)
    assert back(WEEK, back(WEEK, day, some), more) == there
    assert is_open_day(WEEK, there) and there <= day


@pytest.mark.django_db
def test_a_site_that_is_never_open_is_a_problem_of_the_plan_not_an_endless_search() -> None:
    bench = factory.make_bench()
    part = factory.make_part("LAMP")
    factory.make_routing(part, [factory.Op(10, bench, "assemble", "make")])
    line = factory.make_line(factory.make_order(), part, 10)
    assert not make_plan([line.pk], on=factory.MONDAY.date()).problems
    factory.make_closure(bench, date(2020, 1, 1), date(2040, 1, 1))
    assert [problem.code for problem in make_plan([line.pk], on=factory.MONDAY.date()).problems] == ["never_open"]


@pytest.mark.django_db
def test_a_slip_in_the_shifts_counts_as_monday_to_friday() -> None:
    bench = factory.make_bench(shifts="whenever")
    calendar = calendars_of([bench])[bench.pk]
    assert [is_open_day(calendar, date(2026, 3, day)) for day in range(2, 9)] == [True] * 5 + [False] * 2


@pytest.mark.django_db
def test_goods_leave_early_enough_to_arrive_on_an_open_day() -> None:
    moulder, bench = factory.make_site(), factory.make_bench(shifts="Mo-We 08:00-16:00")
    factory.make_lane(moulder, bench, days=2)
    calendars = Calendars()
    # The bench is shut on Friday the 20th: there by Wednesday the 18th, so away on Monday the 16th.
    assert calendars.leave_by(moulder.pk, bench.pk, date(2026, 3, 20)) == date(2026, 3, 16)
    assert calendars.leave_by(bench.pk, bench.pk, date(2026, 3, 20)) == date(2026, 3, 18)
    assert calendars.transit_days(bench.pk, moulder.pk) == (1, False)
