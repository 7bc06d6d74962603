"""Samples and ages: accepted at the limit, refused one beyond it, and what a plan cannot see said in figures."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.checks.evidence import good, parsed, read, with_readings
from tests.rules.checks.tables import Table
from traveller.rules.checks import sample
from traveller.rules.checks.base import Evidence
from traveller.rules.sampling import Model, SamplingPlan, acceptance_probability, single_plan
from traveller.rules.sampling_tables import ACCEPTANCE_LIMITS, LEVELS

TABLE = Table(
    rows=({"limit": "1.0"}, {"name": "adhesion", "level": "S-2", "limit": "4"}, {"sample": "5", "accept": "0"}),
    scope="lot",
    full={"name": "looks", "level": "II", "limit": "0.65"},
    instead=({"name": "looks", "sample": "50", "accept": "1"},),
    good={"looked_at": "500", "bad": "0"},
    bad={"looked_at": "50", "bad": "40"},
)


BY_TABLE = parsed(sample.KIND.parse({"name": "leak", "limit": "1.0"}))


def seen(looked_at: int, bad: int, lot: int = 1200) -> Evidence:
    """So many looked at, so many of them bad."""
    return with_readings(read("looked_at", str(looked_at)), read("bad", str(bad)), counts=good(lot))


@pytest.mark.parametrize(
    ("looked_at", "bad", "code"),
    [
        (80, 2, "sample.passed"),
        (80, 3, "sample.rejected"),
        (79, 2, "sample.too_few"),
        (10, 3, "sample.rejected"),
        (0, 0, "sample.not_looked"),
        (5, 6, "sample.more_bad_than_seen"),
    ],
)
def test_a_lot_of_1200_is_judged_by_80_and_2(looked_at: int, bad: int, code: str) -> None:
    assert sample.judge(BY_TABLE, seen(looked_at, bad)).step.code == code


def test_the_verdict_says_what_the_plan_cannot_see() -> None:
    """Binomial, n 80, Ac 2, computed from the sum of three terms."""
    figures = sample.judge(BY_TABLE, seen(80, 0)).step.figures
    for name, share in (("chance_one", 0.01), ("chance_two", 0.02), ("chance_five", 0.05)):
        exact = sum([(1 - share) ** 80, 80 * share * (1 - share) ** 79, 3160 * share**2 * (1 - share) ** 78])
        assert float(str(figures[name])) == pytest.approx(100 * exact, abs=0.1)
    assert figures["model"] == "binomial"
    assert sample.chances(SamplingPlan(13, 0), 100)["model"] == "hypergeometric"


def test_a_given_plan_is_used_as_given_and_never_asks_for_more_than_the_lot() -> None:
    params = parsed(sample.KIND.parse({"sample": "5", "accept": "0"}))
    assert sample.judge(params, seen(5, 0, 500)).step.outcome == "passed"
    assert sample.judge(params, seen(5, 1, 500)).step.outcome == "failed"
    assert sample.judge(params, seen(3, 0, 3)).step.outcome == "passed"
    assert sample.judge(BY_TABLE, seen(1, 0, 1)).step.outcome == "passed"


@pytest.mark.parametrize(
    "row",
    [
        {},
        {"limit": "3"},
        {"limit": "1", "level": "IV"},
        {"sample": "5", "accept": "5"},
        {"accept": "0"},
        {"sample": "5"},
        {"sample": "5", "accept": "0", "limit": "1"},
        {"sample": "5", "accept": "0.5"},
    ],
)
def test_a_row_without_one_plan_is_named(row: dict[str, str]) -> None:
    assert isinstance(sample.KIND.parse(row), list)


plans = st.tuples(st.integers(1, 200), st.integers(0, 12)).filter(lambda pair: pair[1] < pair[0])


models = st.sampled_from(["binomial", "poisson", "hypergeometric"])


@given(plans, models, st.floats(0, 1), st.floats(0, 1))
def test_acceptance_falls_with_the_share_of_bad_pieces(
    pair: tuple[int, int], model: Model, one: float, other: float
) -> None:
    plan, (less, more) = SamplingPlan(*pair), sorted((one, other))
    lot = 400 if model == "hypergeometric" else None
    low, high = (acceptance_probability(plan, share, model=model, lot=lot) for share in (more, less))
    assert 0 <= low <= high + 1e-9 <= 1 + 1e-9


@given(st.integers(2, 1_000_000), st.sampled_from(LEVELS), st.sampled_from(ACCEPTANCE_LIMITS))
def test_every_lot_has_a_plan_that_can_be_carried_out(lot: int, level: str, limit: str) -> None:
    plan = single_plan(lot, level, limit)
    assert 1 <= plan.size <= lot and plan.accept >= 0
