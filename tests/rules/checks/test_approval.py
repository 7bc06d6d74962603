from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.checks.evidence import NOON, good, parsed, read, with_readings
from tests.rules.checks.tables import Table
from traveller.rules.checks.approval import KIND, allowed, judge
from traveller.rules.checks.base import ApprovalEvidence, Evidence, MadeWith
from traveller.rules.checks.first_piece import changed

TABLE = Table(
    rows=({}, {"name": "ignored"}, {"cap": "20", "every_cavity": "yes", "lapse": "90"}),
    scope="step",
    full={"cap": "20", "every_cavity": "yes", "lapse": "90"},
)

parse = KIND.parse

TWO = MadeWith("B 1f", "M-7", (1, 2), "PC-1 A", "moulder", ("press 1",))
CAPPED = parsed(parse({"cap": "20"}))


def decided(approved: bool, minute: int = 0, *, elsewhere: bool = False, made: MadeWith = TWO) -> ApprovalEvidence:
    return ApprovalEvidence(NOON + timedelta(minutes=minute), approved, made, elsewhere=elsewhere)


def run(*decisions: ApprovalEvidence, pieces: int = 5, made: MadeWith = TWO, since: int | None = None) -> Evidence:
    return Evidence(
        counts=good(pieces), approvals=decisions, made_with=made, open_cavities=made.cavities, made_since=since
    )


@pytest.mark.parametrize(
    ("decisions", "outcome", "code"),
    [
        ([], "missing", "approval.waiting"),
        ([True], "passed", "approval.passed"),
        ([False], "failed", "approval.refused"),
        ([False, True], "passed", "approval.passed"),
        ([True, False], "failed", "approval.refused"),
    ],
)
def test_the_founders_latest_decision_counts(decisions: list[bool], outcome: str, code: str) -> None:
    reported = [decided(approved, n) for n, approved in enumerate(decisions)]
    for order in permutations(reported):
        verdict = judge(parsed(parse({})), run(*order)).step
        assert (verdict.outcome, verdict.code) == (outcome, code)


def test_a_reading_approves_nothing_whoever_typed_it() -> None:
    assert judge(parsed(parse({})), with_readings(read("first_off", "1"))).step.outcome == "missing"


def test_one_tick_is_asked() -> None:
    assert [(q.name, q.kind) for q in KIND.questions(parsed(parse({})))] == [("first_off", "tick")]


def test_an_approval_from_another_batch_carries_over_to_the_same_set_up() -> None:
    assert judge(CAPPED, run(decided(True, elsewhere=True), pieces=5000)).step.code == "approval.passed"


def test_a_refusal_in_another_batch_takes_the_approval_away_but_fails_nothing() -> None:
    verdict = judge(CAPPED, run(decided(False, elsewhere=True))).step
    assert (verdict.outcome, verdict.code) == ("missing", "approval.refused_elsewhere")


@pytest.mark.parametrize("minute", [-1, 1])
def test_what_is_decided_on_the_own_first_off_outweighs_what_is_decided_elsewhere(minute: int) -> None:
    for own in (True, False):
        other = decided(not own, minute, elsewhere=True)
        assert judge(CAPPED, run(decided(own), other)).step.outcome == ("passed" if own else "failed")


def test_a_set_up_that_was_changed_in_mid_run_may_be_approved_in_another_batch_since() -> None:
    one = replace(TWO, cavities=(1,))
    own, later = decided(True), decided(True, 30, elsewhere=True, made=one)
    assert judge(CAPPED, run(own, made=one)).step.code == "approval.reopened"
    assert judge(CAPPED, run(own, later, made=one)).step.code == "approval.passed"
    # One that was given before the own decision is about what was run then.
    assert judge(CAPPED, run(own, decided(True, -30, elsewhere=True, made=one), made=one)).step.outcome == "missing"


@pytest.mark.parametrize(("now", "names"), [(("press 1",), []), (("press 2",), ["machines"]), ((), [])])
def test_a_machine_that_was_approved_among_others_is_no_new_one(now: tuple[str, ...], names: list[str]) -> None:
    both = replace(TWO, machines=("press 1", "press 3"))
    assert changed(both, replace(TWO, machines=now)) == names
    assert changed(both, replace(TWO, machines=("press 1", "press 2"))) == ["machines"]


@pytest.mark.parametrize(("since", "outcome", "left"), [(19, "missing", 1), (20, "missing", 0), (21, "failed", 0)])
def test_after_a_change_in_mid_run_only_what_was_made_since_counts_against_the_cap(
    since: int, outcome: str, left: int
) -> None:
    reopened = run(decided(True), pieces=5000, made=replace(TWO, cavities=(1,)), since=since)
    assert judge(CAPPED, reopened).step.outcome == outcome
    assert allowed(CAPPED, reopened) == left


@given(st.integers(0, 60), st.integers(1, 40))
def test_what_is_allowed_and_what_is_judged_agree(pieces: int, cap: int) -> None:
    params = parsed(parse({"cap": str(cap)}))
    left = allowed(params, run(pieces=pieces))
    assert left == max(0, cap - pieces)
    assert (judge(params, run(pieces=pieces)).step.outcome == "failed") == (pieces > cap)
    assert allowed(params, run(decided(True), pieces=pieces)) is None
    assert allowed(parsed(parse({})), run(pieces=pieces)) is None
