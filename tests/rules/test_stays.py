"""What is usual of a shop's stays: visits that are not over count as at least, and few visits are no fact."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.stays import HIGH_FROM, MEDIAN_FROM, StayLength, stay_within, usual_stay

HALF, FOUR_IN_FIVE = Fraction(1, 2), Fraction(4, 5)
DAYS = st.integers(min_value=0, max_value=40)
SHARE = st.sampled_from([Fraction(1, 4), HALF, FOUR_IN_FIVE, Fraction(9, 10)])
STAYS = st.lists(st.builds(StayLength, DAYS, st.booleans()), max_size=60)


def over(*days: int) -> list[StayLength]:
    return [StayLength(n) for n in days]


def at_least(*days: int) -> list[StayLength]:
    return [StayLength(n, over=False) for n in days]


@pytest.mark.parametrize(
    ("stays", "share", "days"),
    [
        (over(4), HALF, 4),
        (over(1, 2, 3, 4, 5), HALF, 3),
        (over(1, 2, 3, 4), HALF, 2),
        (over(*range(1, 11)), FOUR_IN_FIVE, 8),
        # One that is still there after 9 days stands for a long stay, not for one of 9 days.
        (over(1, 2, 3, 4) + at_least(9), HALF, 3),
        # At 2 days three of four are left, at 3 days half of those: 3/8 remain.
        (over(2, 3) + at_least(2, 4), HALF, 3),
        (over(2) + at_least(3, 7), HALF, None),
        (at_least(3, 4, 5), HALF, None),
        ([], HALF, None),
    ],
)
def test_within_how_many_days_a_share_of_visits_ends(
    stays: list[StayLength], share: Fraction, days: int | None
) -> None:
    assert stay_within(stays, share) == days


@given(st.lists(DAYS, min_size=1, max_size=60), SHARE)
def test_without_open_visits_it_is_the_plain_percentile(days: list[int], share: Fraction) -> None:
    found = stay_within(over(*days), share)
    assert found == next(d for d in sorted(days) if Fraction(sum(n <= d for n in days), len(days)) >= share)


@given(STAYS, SHARE)
def test_an_open_visit_never_shortens_what_is_usual(stays: list[StayLength], share: Fraction) -> None:
    found = stay_within(stays, share)
    if found is None:
        return
    ended_there = stay_within([StayLength(stay.days) for stay in stays], share)
    assert ended_there is not None and ended_there <= found
    longer = stay_within([*stays, StayLength(50, over=False)], share)
    assert longer is None or longer >= found


@given(STAYS, SHARE, st.randoms(use_true_random=False))
def test_the_order_in_which_visits_are_read_says_nothing(
    stays: list[StayLength], share: Fraction, rng: random.Random
) -> None:
    mixed = list(stays)
    rng.shuffle(mixed)
    assert stay_within(mixed, share) == stay_within(stays, share)


@pytest.mark.parametrize("seed", range(4))
def test_a_drawn_truth_is_found_although_half_of_the_visits_are_not_over(seed: int) -> None:
    """Stays drawn from a known distribution, each looked at after a drawn time: what is seen is the shorter of both."""
    rng = random.Random(seed)
    truth = [int(rng.weibullvariate(8, 1.4)) for _ in range(6000)]
    looked_at = [rng.randrange(0, 16) for _ in truth]
    seen = [StayLength(min(days, at), days <= at) for days, at in zip(truth, looked_at, strict=True)]
    assert 0.3 < sum(not stay.over for stay in seen) / len(seen) < 0.6
    for share in (HALF, FOUR_IN_FIVE):
        true = sorted(truth)[int(share * len(truth))]
        found = stay_within(seen, share)
        assert found is not None and abs(found - true) <= 1
    # What leaves them out finds a shop quicker than it is.
    assert stay_within([stay for stay in seen if stay.over], HALF) < sorted(truth)[len(truth) // 2] - 1  # type: ignore[operator]


def test_a_median_is_a_fact_from_five_visits_that_are_over() -> None:
    few = usual_stay(over(*[2] * (MEDIAN_FROM - 1)) + at_least(1, 1, 1), agreed=6)
    assert (few.median, few.usual, few.longest) == (None, 6, 6)
    enough = usual_stay(over(*[2] * MEDIAN_FROM), agreed=6)
    assert (enough.median, enough.usual) == (2, 2)
    # Longer than usual still means longer than agreed: every second visit is longer than the median.
    assert (enough.high, enough.longest) == (None, 6)


def test_four_in_five_is_a_fact_from_ten_visits_that_are_over() -> None:
    nine = usual_stay(over(*range(1, HIGH_FROM)), agreed=20)
    assert (nine.high, nine.longest) == (None, 20)
    ten = usual_stay(over(*range(1, HIGH_FROM + 1)) + at_least(0), agreed=20)
    assert (ten.high, ten.longest, ten.over, ten.at_least) == (8, 8, 10, 1)


def test_what_the_open_visits_leave_open_is_no_fact() -> None:
    stays = over(*[3] * 10) + at_least(*[4] * 12)
    found = usual_stay(stays, agreed=5)
    assert (found.median, found.high, found.usual, found.longest) == (None, None, 5, 5)
