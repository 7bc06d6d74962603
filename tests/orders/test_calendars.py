"""Working days counted backward over shifts and closures."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sites.models import Site
from tests import factory
from traveller.orders.calendars import Calendar, Calendars, open_weekdays


@pytest.mark.parametrize(
    ("shifts", "days"),
    [
        ("Mo-Fr 08:00-16:30", {0, 1, 2, 3, 4}),
        ("Mo-Th 07:00-16:00, Fr 07:00-12:00", {0, 1, 2, 3, 4}),
        ("tu-th 09:00-17:00; sa 09:00-12:00", {1, 2, 3, 5}),
        ("Sa-Mo 10:00-18:00", {5, 6, 0}),
        ("", {0, 1, 2, 3, 4}),
    ],
)
def test_the_weekdays_of_a_shift_plan_are_read(shifts: str, days: set[int]) -> None:
    assert open_weekdays(shifts) == days


WEEK = Calendar(Site(code="shop"), open_weekdays("Mo-Fr"), [(date(2026, 3, 9), date(2026, 3, 11))])


def test_counting_back_passes_over_weekends_and_closures() -> None:
    # Monday the 16th: Friday 13, Thursday 12, then closed 9 to 11 and a weekend: Friday 6.
    assert [WEEK.back(date(2026, 3, 16), days) for days in range(4)] == [
        date(2026, 3, 16),
        date(2026, 3, 13),
        date(2026, 3, 12),
        date(2026, 3, 6),
    ]
    assert WEEK.back(date(2026, 3, 15), 0) == date(2026, 3, 13)


@given(st.dates(date(2026, 1, 1), date(2027, 1, 1)), st.integers(0, 20), st.integers(0, 20))
def test_counting_back_in_two_goes_is_counting_back_in_one(day: date, some: int, more: int) -> None:
    there = WEEK.back(day, some + more)
    assert WEEK.back(WEEK.back(day, some), more) == there
    assert WEEK.is_open(there) and there <= day


def test_a_site_that_is_never_open_is_said_not_searched_for_ever() -> None:
    shut = Calendar(Site(code="shut"), open_weekdays("Mo-Fr"), [(date(2000, 1, 1), date(2040, 1, 1))])
    with pytest.raises(ValueError, match="shut is never open"):
        shut.back(date(2026, 3, 16), 1)


@pytest.mark.django_db
def test_goods_leave_early_enough_to_arrive_on_an_open_day() -> None:
    moulder, bench = factory.make_site(), factory.make_bench(shifts="Mo-We 08:00-16:00")
    factory.make_lane(moulder, bench, days=2)
    calendars = Calendars()
    # The bench is shut on Friday the 20th: there by Wednesday the 18th, so away on Monday the 16th.
    assert calendars.leave_by(moulder.pk, bench.pk, date(2026, 3, 20)) == date(2026, 3, 16)
    assert calendars.leave_by(bench.pk, bench.pk, date(2026, 3, 20)) == date(2026, 3, 18)
    assert calendars.transit_days(bench.pk, moulder.pk) == (1, False)
