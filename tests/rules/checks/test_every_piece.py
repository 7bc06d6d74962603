from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.checks.evidence import parsed, read
from tests.rules.checks.tables import Table
from traveller.rules.checks.base import CountEvidence, Evidence
from traveller.rules.checks.every_piece import KIND, judge

TABLE = Table(
    rows=({}, {"name": "water test"}, {"name": "water test", "master": "yes"}),
    scope="piece",
    full={"name": "water test", "master": "yes"},
)

parse = KIND.parse

WATER = parsed(parse({"name": "water test"}))


def counted(said_done: bool = True, **counts: Any) -> Evidence:
    return Evidence(counts=CountEvidence(**counts), said_done=said_done)


@pytest.mark.parametrize(
    ("counts", "done", "outcome", "code"),
    [
        ({"arrived": 500, "good": 480, "scrap": 20}, True, "passed", "passed"),
        ({"arrived": 500, "good": 480, "scrap": 20}, False, "passed", "passed"),
        ({"arrived": 500, "good": 479, "scrap": 20}, True, "missing", "unaccounted"),
        ({"arrived": 500, "good": 479, "scrap": 20}, False, "missing", "not_finished"),
        ({"arrived": 500, "good": 481, "scrap": 20}, True, "missing", "more_than_arrived"),
        ({"arrived": 500, "good": 470, "scrap": 20, "rework": 8, "samples": 2}, True, "passed", "passed"),
        ({"arrived": 500, "good": 496, "scrap": 4, "scrap_before": 5}, True, "missing", "before_exceeds_scrap"),
        ({"arrived": 500, "good": 480, "scrap": 19, "retested": 1}, True, "missing", "unaccounted"),
        ({"arrived": 0}, True, "missing", "nothing_arrived"),
    ],
)
def test_every_piece_that_arrived_must_be_told_of(counts: dict[str, int], done: bool, outcome: str, code: str) -> None:
    verdict = judge(WATER, counted(done, **counts)).step
    assert (verdict.outcome, verdict.code) == (outcome, f"every_piece.{code}")


def test_the_figures_follow_the_rule() -> None:
    """Tested = arrived - scrapped before the test, passed = tested - failed, retests apart."""
    evidence = counted(
        arrived=500,
        good=470,
        scrap=20,
        rework=10,
        scrap_before=5,
        retested=8,
        by_reason={"gate": 15, "seam": 10, "before test": 5},
    )
    figures = judge(WATER, evidence).step.figures
    assert [figures[name] for name in ("tested", "failed", "passed", "retested")] == [495, 25, 470, 8]
    assert figures["by_reason"] == {"gate": 15, "seam": 10, "before test": 5}
    assert KIND.words["every_piece.passed"].format(**figures) == "water test: 495 tested, 470 passed, 25 failed."


@pytest.mark.parametrize(("said", "outcome"), [("495", "passed"), ("494", "failed"), ("496", "failed")])
def test_a_stated_number_tested_must_agree(said: str, outcome: str) -> None:
    counts = CountEvidence(arrived=500, good=480, scrap=20, scrap_before=5)
    evidence = Evidence(counts=counts, said_done=True, readings=(read("tested", said),))
    assert judge(WATER, evidence).step.outcome == outcome


def test_a_number_tested_so_far_is_no_failure_before_the_end() -> None:
    evidence = Evidence(counts=CountEvidence(arrived=500, good=100), readings=(read("tested", "100"),))
    assert judge(WATER, evidence).step.code == "every_piece.not_finished"


pieces = st.integers(0, 1000)


@given(pieces, pieces, pieces, pieces, pieces)
def test_what_passed_has_tested_all_and_tested_is_passed_plus_failed(
    good: int, scrap: int, before: int, rework: int, retested: int
) -> None:
    arrived = good + scrap + rework
    before = min(before, scrap)
    evidence = counted(arrived=arrived, good=good, scrap=scrap, rework=rework, scrap_before=before, retested=retested)
    verdict = judge(WATER, evidence).step
    assert verdict.outcome == ("passed" if arrived else "missing")
    assert verdict.figures["tested"] == arrived - before == good + (scrap - before + rework)


@given(pieces, pieces, st.integers(1, 50), pieces)
def test_testing_again_never_makes_up_for_untested_pieces(good: int, scrap: int, left: int, retested: int) -> None:
    evidence = counted(arrived=good + scrap + left, good=good, scrap=scrap, retested=retested)
    assert judge(WATER, evidence).step.outcome == "missing"
