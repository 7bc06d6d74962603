"""Yields and start quantities against published examples."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.outside.altered import Case, Check
from traveller.rules.yields import chance_of_enough, first_pass_yield, rolled_yield, start_for_confidence

# Minitab documentation, "What are throughput yield and rolled throughput yield": .95, .84, .88 of 1,000 units; printed
# 0.70 and 700 good units, exactly 0.70224.
ROLLED = [
    Case((950_000, 840_000, 880_000), 0.70224, within=1e-9),
    Case((950_000, 840_000, 880_000), 0.70, within=0.005),
]


def rolled_agrees(case: Case) -> None:
    assert abs(float(rolled_yield(case.given)) - case.published) <= case.within


# ISSSP, "First Time Yield and Rolled Throughput Yield", step 1 table: 100 in, 10 scrapped, 5 reworked once gives
# 85/100; the series (95/100)(85/95)(80/85) gives 80/100.
FIRST_TIME = [Case([(100, 10, 5)], Fraction(85, 100)), Case([(100, 5, 0), (95, 10, 0), (85, 5, 0)], Fraction(80, 100))]


def first_time_agrees(case: Case) -> None:
    product = Fraction(1)
    for step in case.given:
        share = first_pass_yield(*step)
        assert share is not None
        product *= share
    assert product == case.published


# Negative binomial exercise, defective pumps (Math Help Forum thread 60407, questions b-f), p = 0.95: 0.774 for five
# read there; the others computed two ways, binomial tail and negative binomial sum. At least five good of so many,
# then: exactly so many are needed for five good.
AT_LEAST = [Case(5, 0.773781, within=1e-6), Case(6, 0.967226, within=1e-6), Case(7, 0.996243, within=1e-6)]
EXACTLY = [Case(5, 0.773781, within=1e-6), Case(6, 0.193445, within=1e-6), Case(7, 0.029017, within=1e-6)]


def at_least_agrees(case: Case) -> None:
    assert abs(chance_of_enough(case.given, 5, 0.95) - case.published) <= case.within


def exactly_agrees(case: Case) -> None:
    own = chance_of_enough(case.given, 5, 0.95) - chance_of_enough(case.given - 1, 5, 0.95)
    assert abs(own - case.published) <= case.within


# The same exercise; the start for a hundred is computed with scipy's binomial tail, not printed in a source.
STARTS = [
    Case((5, 0.95), 6),
    Case((5, 0.99), 7),
    Case((100, 0.9), 108),
    Case((100, 0.95), 109),
    Case((100, 0.99), 111),
]


def starts_agree(case: Case) -> None:
    need, confidence = case.given
    assert start_for_confidence(need, 0.95, confidence) == case.published


PUBLISHED: dict[str, tuple[list[Case], Check]] = {
    "rolled yield of three steps": (ROLLED, rolled_agrees),
    "first-time yield with rework": (FIRST_TIME, first_time_agrees),
    "the chance of five good": (AT_LEAST, at_least_agrees),
    "exactly so many for five good": (EXACTLY, exactly_agrees),
    "start quantities": (STARTS, starts_agree),
}


@pytest.mark.parametrize("title", PUBLISHED)
def test_yields_are_as_published(title: str) -> None:
    cases, check = PUBLISHED[title]
    for case in cases:
        check(case)
