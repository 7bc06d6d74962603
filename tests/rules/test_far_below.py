"""Far below plan: worked by hand, and where chance or a bad tenth explains it nobody is asked."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.far_below import far_below


# By hand: n p, nine tenths of it, and n p - 2 sqrt(n p (1 - p)); the lower of the two is the last that is asked about.
@pytest.mark.parametrize(
    ("entered", "yield_ppm", "asked", "not_asked"),
    [
        # 216.31; 194.7; 211.2: below nine tenths.
        (223, 970_000, 194, 195),
        # 4; 3.6; 2.21: chance takes more than a tenth of five.
        (5, 800_000, 2, 3),
        # 50; 45; 40: half of a hundred, spread 5.
        (100, 500_000, 39, 40),
        # All of it expected: no chance, only the tenth.
        (208, 1_000_000, 187, 188),
        (1, 1_000_000, 0, 1),
    ],
)
def test_the_last_figure_that_is_asked_about(entered: int, yield_ppm: int, asked: int, not_asked: int) -> None:
    assert far_below(asked, entered, yield_ppm) and not far_below(not_asked, entered, yield_ppm)


def test_where_nothing_is_expected_nothing_is_missing() -> None:
    assert not far_below(0, 0) and not far_below(0, -3)


@given(st.integers(1, 5_000), st.integers(1, 1_000_000), st.integers(0, 5_000))
def test_as_the_same_reckoned_with_roots(entered: int, yield_ppm: int, recorded: int) -> None:
    mean = entered * yield_ppm / 1e6
    edge = min(0.9 * mean, mean - 2 * math.sqrt(mean * (1 - yield_ppm / 1e6)))
    if abs(recorded - edge) > 1e-6:
        assert far_below(recorded, entered, yield_ppm) == (recorded < edge)


@given(st.integers(1, 500), st.integers(1, 1_000_000), st.integers(0, 500))
def test_one_more_recorded_never_makes_it_far_below(entered: int, yield_ppm: int, recorded: int) -> None:
    assert far_below(recorded, entered, yield_ppm) or not far_below(recorded + 1, entered, yield_ppm)
