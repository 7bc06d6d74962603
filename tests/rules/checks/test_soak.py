"""Soak and cure of loads: at the limit, a hair below and above; what a log cannot prove stays missing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.rules.checks.evidence import NOON, a_log, flat, load, logged, parsed
from tests.rules.checks.tables import Table
from traveller.rules.checks import soak
from traveller.rules.checks.base import CountEvidence, Evidence

TABLE = Table(
    rows=(
        {"least": "30", "temperature": "150 C"},
        {"total": "1.5", "most": "4", "unit": "h", "temperature": "302-392 F", "gap": "30 s"},
    ),
    scope="load",
    full={
        "least": "20",
        "total": "30",
        "most": "60.5",
        "unit": "min",
        "temperature": "150-200 C",
        "where": "surface",
        "probe": "part",
        "gap": "90 s",
        "recipe": "silicone post-cure",
    },
    wrong_unit="N m",
)


BAKE = parsed(soak.KIND.parse({"least": "30", "temperature": "150-200 C"}))


@pytest.mark.parametrize(
    ("celsius", "seconds", "outcome", "code"),
    [
        (150.0, 1800, "passed", "soak.passed"),
        (150.0, 1799.99, "failed", "soak.too_short"),
        (150.0, 1800.01, "passed", "soak.passed"),
        (149.999, 1800, "failed", "soak.too_short"),
        (150.001, 1800, "passed", "soak.passed"),
        (200.0, 1800, "passed", "soak.passed"),
        (200.001, 1800, "failed", "soak.too_hot"),
    ],
)
def test_a_soak_at_its_limits(celsius: float, seconds: float, outcome: str, code: str) -> None:
    verdict = soak.judge(BAKE, logged(flat(celsius, 31), seconds)).step
    assert (verdict.outcome, verdict.code) == (outcome, code)


def test_figures_never_show_a_missed_limit_as_met() -> None:
    figures = soak.judge(BAKE, logged(flat(150, 31), 1799.99)).step.figures
    assert (figures["longest"], figures["least"]) == ("29.99", "30")
    assert soak.judge(BAKE, logged(flat(200.001, 31), 1800)).step.figures["highest_c"] == "200.1"


def test_a_limit_in_fahrenheit_is_the_same_limit() -> None:
    params = parsed(soak.KIND.parse({"least": "30", "temperature": "302-392 F"}))
    for celsius, outcome in ((150.0, "passed"), (149.999, "failed"), (200.0, "passed"), (200.001, "failed")):
        assert soak.judge(params, logged(flat(celsius, 31), 1800)).step.outcome == outcome


def test_unbroken_and_in_all_are_two_limits() -> None:
    dip = [*flat(160, 20), (1230.0, 140.0), (1260.0, 160.0), *[(1260.0 + 60 * n, 160.0) for n in range(1, 21)]]
    total = parsed(soak.KIND.parse({"total": "30", "temperature": "150 C"}))
    assert soak.judge(BAKE, logged(dip, 2460)).step.code == "soak.too_short"
    assert soak.judge(total, logged(dip, 2460)).step.outcome == "passed"
    most = parsed(soak.KIND.parse({"least": "10", "most": "30", "temperature": "150 C"}))
    assert soak.judge(most, logged(dip, 2460)).step.code == "soak.too_long"


@pytest.mark.parametrize(("pause", "outcome"), [(119.9, "passed"), (120, "passed"), (120.1, "missing")])
def test_a_gap_longer_than_allowed_is_missing_evidence(pause: float, outcome: str) -> None:
    points = [*flat(160, 31), *[(1860 + pause + 60 * n, 160.0) for n in range(3)]]
    verdict = soak.judge(BAKE, logged(points, 1860 + pause + 100)).step
    assert verdict.outcome == outcome
    if outcome == "missing":
        assert verdict.code == "logged.gap" and verdict.figures["gaps"] == 1


def test_too_hot_is_a_failure_whatever_the_gaps_hide() -> None:
    points = [(0.0, 160.0), (60.0, 201.0), (5000.0, 160.0)]
    assert soak.judge(BAKE, logged(points, 5000)).step.code == "soak.too_hot"


def test_each_load_is_judged_by_its_own_part_of_a_long_log() -> None:
    """A shift-long log proves no single load."""
    points = [(60.0 * n, 160.0 if n < 40 else 100.0) for n in range(101)]
    hot = load(1800, number=1, pieces=10, log=a_log(points))
    cold = replace(load(1800, number=2, pieces=10, log=a_log(points)), started_at=NOON.replace(hour=13), ended_at=None)
    counts = CountEvidence(arrived=20, good=20)
    judged = soak.judge(BAKE, Evidence(loads=(hot, cold), counts=counts))
    assert [judged.by_load[n].code for n in (1, 2)] == ["soak.passed", "logged.not_ended"]
    cold = replace(cold, ended_at=NOON.replace(hour=13, minute=35))
    assert soak.judge(BAKE, Evidence(loads=(hot, cold), counts=counts)).by_load[2].code == "soak.too_short"
    assert soak.judge(BAKE, Evidence(loads=(hot,), counts=counts)).step.code == "loads.uncovered"


def test_a_log_of_another_day_proves_nothing() -> None:
    other = load(1800, log=a_log(flat(160, 31), NOON.replace(day=5)))
    assert soak.judge(BAKE, Evidence(loads=(other,))).step.code == "logged.another_time"


def test_a_log_shorter_than_the_load_leaves_a_gap() -> None:
    assert soak.judge(BAKE, logged(flat(160, 31), 31 * 60 + 120)).step.outcome == "passed"
    assert soak.judge(BAKE, logged(flat(160, 31), 31 * 60 + 121)).step.code == "logged.gap"


@pytest.mark.parametrize(
    ("column", "seconds", "outcome"),
    [
        ("total", 1800, "passed"),
        ("total", 1799.99, "failed"),
        ("total", 1800.01, "passed"),
        ("most", 1800, "passed"),
        ("most", 1799.99, "passed"),
        ("most", 1800.01, "failed"),
    ],
)
def test_a_soak_in_all_is_judged_at_its_limits(column: str, seconds: float, outcome: str) -> None:
    params = parsed(soak.KIND.parse({"least": "10", column: "30", "temperature": "150 C"}))
    assert soak.judge(params, logged(flat(160, 31), seconds)).step.outcome == outcome


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ({"least": "30"}, "temperature"),
        ({"temperature": "150 C"}, "least"),
        ({"least": "30", "temperature": "150"}, "temperature"),
        ({"least": "30", "most": "20", "temperature": "150 C"}, "most"),
        ({"least": "30", "temperature": "150 C", "gap": "soon"}, "gap"),
    ],
)
def test_a_soak_row_that_says_too_little_is_named(row: dict[str, str], column: str) -> None:
    found = soak.KIND.parse(row)
    assert isinstance(found, list) and column in {error.column for error in found}
