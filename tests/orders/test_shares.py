"""Shares sum to what is shared, whatever the weights."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from traveller.orders.shares import first_come, share_out

WEIGHTS = st.dictionaries(st.integers(1, 50), st.integers(0, 5000), min_size=1, max_size=8)


@given(st.integers(0, 100_000), WEIGHTS.filter(lambda weights: sum(weights.values()) > 0))
def test_nothing_is_lost_or_invented_in_sharing_out(quantity: int, weights: dict[int, int]) -> None:
    shares = share_out(quantity, weights)
    assert sum(shares.values()) == quantity
    whole = sum(weights.values())
    for line, weight in weights.items():
        assert abs(shares[line] * whole - quantity * weight) < whole


@given(st.integers(0, 20_000), WEIGHTS)
def test_first_come_first_served_gives_to_nobody_more_than_was_wanted(quantity: int, wants: dict[int, int]) -> None:
    given_out = first_come(quantity, wants)
    assert sum(given_out.values()) == min(quantity, sum(wants.values()))
    assert all(given_out[line] <= wants[line] for line in given_out)
    short = [line for line in wants if given_out.get(line, 0) < wants[line]]
    # Once one goes short, those after it get nothing.
    if short:
        later = list(wants)[list(wants).index(short[0]) + 1 :]
        assert not any(given_out.get(line) for line in later)


def test_a_hundred_in_thirds_are_33_33_and_34() -> None:
    assert share_out(100, {1: 1, 2: 1, 3: 1}) == {1: 33, 2: 33, 3: 34}
