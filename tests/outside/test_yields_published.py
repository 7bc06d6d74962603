"""Yields and start quantities against published examples."""

from __future__ import annotations

from fractions import Fraction

import pytest

from traveller.rules.yields import chance_of_enough, first_pass_yield, rolled_yield, start_for_confidence


def test_rolled_throughput_yield_of_three_steps() -> None:
    # Minitab documentation, "What are throughput yield and rolled throughput yield": .95, .84, .88 of 1,000
    # units; printed 0.70 and 700 good units, exactly 0.70224.
    rolled = rolled_yield([950_000, 840_000, 880_000])
    assert rolled == Fraction(70_224, 100_000)
    assert abs(rolled * 1000 - 700) <= 5


def test_first_time_yield_with_rework() -> None:
    # ISSSP, "First Time Yield and Rolled Throughput Yield", step 1 table: 100 in, 10 scrapped, 5 reworked
    # once gives 85/100; the series (95/100)(85/95)(80/85) gives 80/100.
    assert first_pass_yield(100, 10, 5) == Fraction(85, 100)
    series = [first_pass_yield(entered, entered - good, 0) for entered, good in ((100, 95), (95, 85), (85, 80))]
    product = Fraction(1)
    for share in series:
        assert share is not None
        product *= share
    assert product == Fraction(80, 100)


@pytest.mark.parametrize(("start", "chance"), [(5, 0.773781), (6, 0.967226), (7, 0.996243)])
def test_the_chance_of_five_good_pieces(start: int, chance: float) -> None:
    # Negative binomial exercise, defective pumps (Math Help Forum thread 60407, questions b-f): 0.774 for
    # five read there; the others computed two ways, binomial tail and negative binomial sum.
    assert chance_of_enough(start, 5, 0.95) == pytest.approx(chance, abs=1e-6)


@pytest.mark.parametrize(("need", "confidence", "start"), [(5, 0.95, 6), (5, 0.99, 7)])
def test_the_start_for_five_good_pieces(need: int, confidence: float, start: int) -> None:
    assert start_for_confidence(need, 0.95, confidence) == start


@pytest.mark.parametrize(("confidence", "start"), [(0.9, 108), (0.95, 109), (0.99, 111)])
def test_the_start_for_a_hundred_good_pieces(confidence: float, start: int) -> None:
    # Binomial distribution, p = 0.95: computed with scipy's binomial tail, not printed in a source.
    assert start_for_confidence(100, 0.95, confidence) == start
