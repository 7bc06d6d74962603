"""Shelf life, pot life and the order of use."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.potlife import (
    PotLife,
    days_left,
    expiry_order,
    first_expired_first,
    is_expired,
    shelf_life_end,
)


@dataclass(frozen=True)
class Lot:
    name: int
    expires: date | None


days = st.dates(date(2020, 1, 1), date(2040, 1, 1))
lots = st.lists(st.builds(Lot, st.integers(0, 99), st.one_of(st.none(), days)))


@pytest.mark.parametrize(
    ("made", "lived", "end"),
    [
        (date(2026, 1, 31), {"months": 1}, date(2026, 2, 28)),
        (date(2028, 1, 31), {"months": 1}, date(2028, 2, 29)),
        (date(2026, 11, 15), {"months": 14}, date(2028, 1, 15)),
        (date(2026, 12, 1), {"months": 12}, date(2027, 12, 1)),
        (date(2026, 3, 28), {"days": 84}, date(2026, 6, 20)),
        (date(2026, 1, 31), {"months": 1, "days": 1}, date(2026, 3, 1)),
    ],
)
def test_a_shelf_life_ends_on_a_day_of_the_calendar(made: date, lived: dict[str, int], end: date) -> None:
    assert shelf_life_end(made, **lived) == end


@given(days, st.integers(0, 240), st.integers(0, 24))
def test_a_longer_shelf_life_never_ends_sooner(made: date, months: int, more: int) -> None:
    assert made <= shelf_life_end(made, months=months) <= shelf_life_end(made, months=months + more)


def test_the_last_day_is_still_good() -> None:
    last = date(2026, 6, 20)
    assert days_left(last, date(2026, 6, 18)) == 2
    assert days_left(last, last) == 0
    assert days_left(last, date(2026, 6, 21)) == -1
    assert not is_expired(last, last)
    assert is_expired(last, date(2026, 6, 21))
    assert not is_expired(None, date.max)


@given(lots)
def test_the_nearest_expiry_goes_first_and_what_never_expires_last(given_lots: list[Lot]) -> None:
    ordered = first_expired_first(given_lots)
    known = [lot.expires for lot in ordered if lot.expires is not None]
    assert known == sorted(known)
    assert [lot.expires for lot in ordered[len(known) :]] == [None] * (len(ordered) - len(known))
    for expires in {lot.expires for lot in given_lots}:
        assert [lot for lot in ordered if lot.expires == expires] == [
            lot for lot in given_lots if lot.expires == expires
        ]


def test_even_the_last_day_of_all_goes_before_never() -> None:
    assert expiry_order(date.max) < expiry_order(None)


@given(st.integers(1, 10_000), st.floats(10, 40), st.floats(-20, 40), st.floats(0, 20))
def test_warmer_never_keeps_longer_and_colder_is_not_credited(
    minutes: int, reference: float, celsius: float, warmer: float
) -> None:
    life = PotLife(minutes, reference)
    assert 0 <= life.minutes_at(celsius + warmer) <= life.minutes_at(celsius) <= minutes
    assert life.minutes_at(reference - 30) == minutes


def test_a_mix_over_a_clock_change_keeps_its_true_minutes() -> None:
    mixed = datetime(2026, 10, 25, 1, 30, tzinfo=ZoneInfo("Europe/Berlin"))
    assert PotLife(360, 25).ends(mixed, 25) - mixed.astimezone(UTC) == timedelta(hours=6)


def test_figures_out_of_range_are_faults() -> None:
    with pytest.raises(ValueError, match="not negative"):
        shelf_life_end(date(2026, 1, 1), days=-1)
    with pytest.raises(ValueError, match="above zero"):
        PotLife(0, 25)
    with pytest.raises(ValueError, match="without a zone"):
        PotLife(10, 25).ends(datetime(2026, 1, 1), 25)  # noqa: DTZ001 (the fault under test)
