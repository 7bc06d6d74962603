"""Samples and ages: accepted at the limit, refused one beyond it, and what a plan cannot see said in figures."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.checks.evidence import NOON, good, parsed, read, with_readings
from traveller.rules.checks import age, sample
from traveller.rules.checks.base import Evidence, MaterialEvidence
from traveller.rules.sampling import Model, SamplingPlan, acceptance_probability, single_plan
from traveller.rules.sampling_tables import ACCEPTANCE_LIMITS, LEVELS

BY_TABLE = parsed(sample.KIND.parse({"name": "leak", "limit": "1.0"}))
INK = parsed(age.KIND.parse({"name": "ink", "pot_life": "8 h at 25 C"}))


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


def ink(hours: float, *, celsius: str | None = "25", expires: date | None = None, **more: datetime) -> Evidence:
    """Ink used so many hours after mixing."""
    used = NOON + timedelta(hours=hours)
    temperature = None if celsius is None else Decimal(celsius)
    one = MaterialEvidence("INK-1", "ink", expires, more.get("mixed_at", NOON), used, temperature)
    return Evidence(materials=(one,))


@pytest.mark.parametrize(
    ("hours", "celsius", "code"),
    [
        (8, "25", "age.passed"),
        (8.001, "25", "age.past_pot_life"),
        (4, "35", "age.passed"),
        (4.001, "35", "age.past_pot_life"),
        (8, "15", "age.passed"),
        (8.001, "15", "age.past_pot_life"),
        (-1, "25", "age.used_before_mixing"),
        (1, None, "age.no_temperature"),
    ],
)
def test_pot_life_runs_from_mixing_at_its_temperature(hours: float, celsius: str | None, code: str) -> None:
    """8 h at 25 C, halving for 10 degrees more (Siebdruck-Partner, Richtwerte für Topfzeit); cold is not credited."""
    assert age.judge(INK, ink(hours, celsius=celsius)).step.code == code


def test_an_expired_lot_fails_whatever_its_pot_life() -> None:
    assert age.judge(INK, ink(1, expires=date(2026, 3, 3))).step.code == "age.expired"
    assert age.judge(INK, ink(1, expires=date(2026, 3, 4))).step.code == "age.passed_last"


def test_the_last_day_is_the_day_at_the_site_and_counts_at_use() -> None:
    every = parsed(age.KIND.parse({}))
    late = datetime(2026, 3, 5, 3, 30, tzinfo=UTC)
    here = MaterialEvidence("R-1", "resin", date(2026, 3, 4), None, late.astimezone(ZoneInfo("America/Chicago")))
    assert age.judge(every, Evidence(materials=(here,))).step.figures["days"] == 0
    there = replace(here, used_at=late.astimezone(ZoneInfo("Europe/Berlin")))
    assert age.judge(every, Evidence(materials=(there,))).step.code == "age.expired"
    assert age.judge(every, Evidence(materials=(replace(here, expires_on=None),))).step.code == "age.no_expiry"


def test_one_bad_lot_of_several_is_enough() -> None:
    every = parsed(age.KIND.parse({}))
    fine = MaterialEvidence("A", "resin", date(2026, 4, 1), None, NOON)
    found = age.judge(every, Evidence(materials=(fine, replace(fine, lot="B", expires_on=date(2026, 3, 3))))).step
    assert (found.outcome, found.figures["lot"]) == ("failed", "B")
    assert age.judge(INK, Evidence(materials=(fine,))).step.code == "age.none_used"


@pytest.mark.parametrize("pot_life", ["8 h", "8 h at 25", "soon", "0.5 min at 25 C", "0 h at 25 C"])
def test_a_pot_life_without_its_temperature_is_named(pot_life: str) -> None:
    assert isinstance(age.KIND.parse({"pot_life": pot_life}), list)
