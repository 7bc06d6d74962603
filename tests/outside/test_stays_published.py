"""Lengths of which some are only "at least", against a published table.

Source: E. J. Freireich et al., Blood 21 (1963), weeks in remission of 21 patients with 6-mercaptopurine and 21 without;
the data and the product-limit estimates as textbooks of survival analysis repeat them. From memory.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from traveller.rules.stays import StayLength, stay_within

_ENDED = (6, 6, 6, 7, 10, 13, 16, 22, 23)
_GOING_ON = (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)
TREATED = [StayLength(weeks) for weeks in _ENDED] + [StayLength(weeks, over=False) for weeks in _GOING_ON]
PLACEBO = [StayLength(weeks) for weeks in (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)]
# Share still in remission after so many weeks, as printed to three places.
CURVE = [(6, 0.857), (7, 0.807), (10, 0.753), (13, 0.690), (16, 0.627), (22, 0.538), (23, 0.448)]


@pytest.mark.parametrize(("stays", "median"), [(TREATED, 23), (PLACEBO, 8)])
def test_the_published_medians(stays: list[StayLength], median: int) -> None:
    assert stay_within(stays, Fraction(1, 2)) == median


@pytest.mark.parametrize(("weeks", "share"), CURVE)
def test_the_published_curve(weeks: int, share: float) -> None:
    """The curve falls to its printed share at its printed week: a share just above is reached there, one below not."""
    thousandths = round(share * 1000)
    assert stay_within(TREATED, Fraction(1000 - thousandths - 1, 1000)) == weeks
    later = stay_within(TREATED, Fraction(1000 - thousandths + 1, 1000))
    assert later is None or later > weeks


def test_four_in_five_with_the_drug_is_further_off_than_was_followed() -> None:
    assert stay_within(TREATED, Fraction(4, 5)) is None
