"""Last days of use and pot life."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.potlife import PotLife, days_left, is_expired


def test_the_last_day_is_still_good() -> None:
    last = date(2026, 6, 20)
    assert days_left(last, date(2026, 6, 18)) == 2
    assert days_left(last, last) == 0
    assert days_left(last, date(2026, 6, 21)) == -1
    assert not is_expired(last, last)
    assert is_expired(last, date(2026, 6, 21))
    assert not is_expired(None, date.max)


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
    with pytest.raises(ValueError, match="above zero"):
        PotLife(0, 25)
    with pytest.raises(ValueError, match="without a zone"):
        PotLife(10, 25).ends(datetime(2026, 1, 1), 25)  # noqa: DTZ001 (the fault under test)
