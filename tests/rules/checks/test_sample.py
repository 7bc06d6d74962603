"""Samples and ages: accepted at the limit, refused one beyond it, and what a plan cannot see said in figures."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.checks.evidence import good, parsed, read, with_readings
from tests.rules.checks.tables import Table
from traveller.rules.checks import sample
from traveller.rules.checks.base import CountEvidence, Evidence
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


def seen(looked_at: int, bad: int, lot: int = 1200, **more: Any) -> Evidence:
    """So many looked at, so many of them bad; all counted good unless `counts` say otherwise."""
    return with_readings(read("looked_at", str(looked_at)), read("bad", str(bad)), **{"counts": good(lot), **more})


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


FIFTY = parsed(sample.KIND.parse({"sample": "50", "accept": "3"}))


@pytest.mark.parametrize(("lot", "bad"), [(3, 3), (3, 1), (4, 3), (4, 4), (50, 3), (1, 1)])
def test_where_every_piece_was_looked_at_no_bad_one_gets_through(lot: int, bad: int) -> None:
    """The plan would accept 3 of 50; of fewer pieces that is nothing it could say."""
    for done in (False, True):
        found = sample.judge(FIFTY, seen(lot, bad, lot, said_done=done)).step
        assert (found.code, found.figures["left"]) == ("sample.bad_left", bad)
        assert found.outcome == ("failed" if done or bad == lot else "missing")


@pytest.mark.parametrize(
    ("out", "outcome"),
    [
        ({"good": 2, "scrap": 1}, "passed"),
        ({"good": 2, "rework": 1}, "passed"),
        ({"good": 2, "samples": 1}, "passed"),
        ({"good": 3}, "failed"),
    ],
)
def test_the_others_go_on_when_the_bad_ones_are_taken_out(out: dict[str, Any], outcome: str) -> None:
    counts = CountEvidence(arrived=3, **out)
    found = sample.judge(FIFTY, seen(3, 1, counts=counts, said_done=True)).step
    assert found.outcome == outcome
    assert found.code == ("sample.sorted" if outcome == "passed" else "sample.bad_left")


@pytest.mark.parametrize(
    ("looked_at", "bad", "scrap", "code"),
    [
        (7, 0, 3, "sample.passed_every"),  # three were scrapped without a look
        (8, 1, 3, "sample.sorted"),  # two without a look, and the bad one
        (7, 1, 3, "sample.too_few"),  # one of those that go on was never looked at
        (7, 3, 0, "sample.too_few"),
    ],
)
def test_pieces_that_were_scrapped_need_no_look(looked_at: int, bad: int, scrap: int, code: str) -> None:
    counts = CountEvidence(arrived=10, good=10 - scrap, scrap=scrap)
    assert sample.judge(FIFTY, seen(looked_at, bad, counts=counts, said_done=True)).step.code == code


def test_a_small_lot_is_spoken_of_in_pieces() -> None:
    """A lot of 8, three looked at, none may be bad. One bad piece passes in 5 of 8 draws, two in 5/8 x 4/7."""
    found = sample.judge(parsed(sample.KIND.parse({"sample": "3", "accept": "0"})), seen(3, 0, 8)).step
    assert (found.code, found.outcome) == ("sample.passed_few", "passed")
    assert float(str(found.figures["chance_one"])) == pytest.approx(62.5, abs=0.05)
    assert float(str(found.figures["chance_two"])) == pytest.approx(100 * 20 / 56, abs=0.1)
    assert found.figures["model"] == "hypergeometric" and "chance_five" not in found.figures


@given(st.integers(1, 60), st.integers(1, 60), st.data())
def test_no_judgement_of_a_small_lot_lets_a_known_bad_piece_through(size: int, lot: int, data: st.DataObject) -> None:
    """However small the lot and however the plan was agreed: all looked at and passed means all bad ones are out."""
    params = parsed(sample.KIND.parse({"sample": str(size), "accept": str(data.draw(st.integers(0, size - 1)))}))
    scrap = data.draw(st.integers(0, lot))
    bad = data.draw(st.integers(0, lot))
    counts = CountEvidence(arrived=lot, good=lot - scrap, scrap=scrap)
    found = sample.judge(params, seen(lot, bad, counts=counts, said_done=data.draw(st.booleans()))).step
    assert (found.outcome == "passed") == (bad <= scrap)


@pytest.mark.parametrize("limit", [limit for limit in ACCEPTANCE_LIMITS if float(limit) > 10])
def test_limits_above_ten_are_for_defects_and_refused_for_pieces(limit: str) -> None:
    (error,) = sample.KIND.parse({"limit": limit})  # type: ignore[misc]
    assert (error.column, error.found, error.wanted) == ("limit", limit, "10 or less")
    assert "defects per hundred units" in error.why
    assert not isinstance(sample.KIND.parse({"limit": "10"}), list)


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
