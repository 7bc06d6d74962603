"""Start quantities: the plan run forward never falls short, and is never larger than it must be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.yields import (
    MILLION,
    StepQuantity,
    YieldStep,
    chance_of_enough,
    first_pass_yield,
    rolled_yield,
    start_for_confidence,
    start_quantities,
    start_quantity,
)

steps = st.builds(
    YieldStep,
    number=st.integers(1, 999),
    yield_ppm=st.integers(200_000, MILLION),
    taken=st.integers(0, 20),
    cavities=st.integers(0, 8),
    startup_shots=st.integers(0, 30),
    load_size=st.integers(0, 200),
)
routes = st.lists(steps, max_size=8)
wishes = st.integers(1, 20_000)


def run_forward(start: int, route: Sequence[YieldStep]) -> int:
    """What comes out at exactly the planned yields, a part of a good piece counting for nothing."""
    pieces = start
    for step in route:
        pieces = pieces * step.yield_ppm // MILLION - step.taken
    return pieces


def test_the_worked_example_of_the_trade_notes_gives_1132_mouldings_and_566_shots() -> None:
    # Our own worked example: 1,000 wanted; mould .97, deburr .995, water test .96, two prints .98 each,
    # assembly .995, on two cavities.
    shares = (970_000, 995_000, 960_000, 980_000, 980_000, 995_000)
    route = [YieldStep(10 * (n + 1), ppm, cavities=2 if n == 0 else 0) for n, ppm in enumerate(shares)]
    plan = start_quantities(1000, route)
    assert [step.enters for step in plan] == [1132, 1098, 1092, 1048, 1027, 1006]
    assert [step.leaves for step in plan] == [1098, 1092, 1048, 1027, 1006, 1000]
    assert plan[0] == StepQuantity(10, 1132, 1098, 566, None)
    assert start_quantity(1000, route) == 1132
    assert start_for_confidence(1000, rolled_yield(shares), 0.95) == 1150


@given(wishes, routes)
def test_the_plan_run_forward_never_falls_short(wanted: int, route: list[YieldStep]) -> None:
    assert run_forward(start_quantity(wanted, route), route) >= wanted


@given(wishes, routes)
def test_one_piece_less_at_any_step_would_fall_short_of_what_that_step_must_hand_on(
    wanted: int, route: list[YieldStep]
) -> None:
    for step, planned in zip(route, start_quantities(wanted, route), strict=True):
        assert run_forward(planned.enters, [step]) >= planned.leaves
        assert run_forward(planned.enters - 1, [step]) < planned.leaves


@given(wishes, routes)
def test_each_step_hands_on_what_the_next_takes_in(wanted: int, route: list[YieldStep]) -> None:
    plan = start_quantities(wanted, route)
    assert [step.number for step in plan] == [step.number for step in route]
    assert [step.leaves for step in plan] == [*[step.enters for step in plan][1:], wanted][: len(plan)]


@given(wishes, st.integers(0, 500), routes)
def test_wanting_more_never_starts_less(wanted: int, more: int, route: list[YieldStep]) -> None:
    assert start_quantity(wanted + more, route) >= start_quantity(wanted, route)


@given(wishes, steps)
def test_shots_and_loads_hold_all_pieces_and_not_one_shot_or_load_more(wanted: int, step: YieldStep) -> None:
    (planned,) = start_quantities(wanted, [step])
    if step.cavities:
        assert planned.shots is not None
        running = planned.shots - step.startup_shots
        assert (running - 1) * step.cavities < planned.enters <= running * step.cavities
    else:
        assert planned.shots is None
    if step.load_size:
        assert planned.loads is not None
        assert (planned.loads - 1) * step.load_size < planned.enters <= planned.loads * step.load_size
    else:
        assert planned.loads is None


def test_what_is_destroyed_or_kept_is_added_where_it_is_taken() -> None:
    route = [YieldStep(10, 900_000), YieldStep(20, 500_000, taken=3)]
    assert start_quantities(10, route) == (
        StepQuantity(10, 29, 26, None, None),
        StepQuantity(20, 26, 10, None, None),
    )


def test_nothing_wanted_starts_nothing_not_even_what_is_taken_or_start_up_shots() -> None:
    route = [YieldStep(10, 900_000, taken=2, cavities=2, startup_shots=5, load_size=10)]
    assert start_quantities(0, route) == (StepQuantity(10, 0, 0, 0, 0),)
    assert start_quantities(7, []) == ()
    assert start_quantity(7, []) == 7


@pytest.mark.parametrize("ppm", [0, -1, MILLION + 1])
def test_a_yield_outside_its_range_is_a_fault(ppm: int) -> None:
    with pytest.raises(ValueError, match="yield lies in"):
        YieldStep(10, ppm)


def test_other_figures_out_of_range_are_faults() -> None:
    with pytest.raises(ValueError, match="not negative"):
        YieldStep(10, MILLION, taken=-1)
    with pytest.raises(ValueError, match="not negative"):
        start_quantities(-1, [])
    with pytest.raises(ValueError, match="do not fit"):
        first_pass_yield(10, 8, 3)
    with pytest.raises(ValueError, match="p_good"):
        start_for_confidence(1, 0.0, 0.9)
    with pytest.raises(ValueError, match="chance lies"):
        chance_of_enough(1, 1, 1.5)


@given(st.lists(st.integers(1, MILLION), max_size=6))
def test_a_rolled_yield_is_never_above_its_worst_step(shares: list[int]) -> None:
    assert rolled_yield(shares) <= Fraction(min(shares, default=MILLION), MILLION)


def test_first_pass_yield_counts_rework_against_itself_and_is_unknown_without_entries() -> None:
    assert first_pass_yield(200, 0, 50) == Fraction(3, 4)
    assert first_pass_yield(0, 0, 0) is None


@given(st.integers(1, 60), st.floats(0.5, 1.0), st.floats(0.01, 0.999))
def test_the_start_for_a_confidence_is_the_least_that_gives_it(need: int, p: float, confidence: float) -> None:
    start = start_for_confidence(need, p, confidence)
    assert chance_of_enough(start, need, p) >= confidence - 1e-12
    assert start == need or chance_of_enough(start - 1, need, p) < confidence + 1e-12


@given(st.integers(0, 40), st.integers(1, 40), st.floats(0.0, 1.0))
def test_the_chance_agrees_with_the_sum_of_the_binomial_itself(start: int, need: int, p: float) -> None:
    tail = sum(math.comb(start, k) * p**k * (1 - p) ** (start - k) for k in range(need, start + 1))
    assert chance_of_enough(start, need, p) == pytest.approx(tail, abs=1e-9)


def test_large_orders_do_not_underflow() -> None:
    start = start_for_confidence(20_000, 0.5, 0.95)
    mean = 20_000 / 0.5
    assert mean < start < mean + 4 * math.sqrt(20_000 * 0.5) / 0.5
    assert start_for_confidence(0, 0.9, 0.9) == 0
    assert chance_of_enough(0, 0, 0.9) == 1.0
