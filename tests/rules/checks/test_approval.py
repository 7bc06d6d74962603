from __future__ import annotations

from datetime import timedelta

import pytest

from tests.rules.checks.evidence import NOON, parsed, read, with_readings
from traveller.rules.checks.approval import KIND, judge, parse


@pytest.mark.parametrize(
    ("decisions", "outcome", "code"),
    [
        ([], "missing", "approval.waiting"),
        (["1"], "passed", "approval.passed"),
        (["0"], "failed", "approval.refused"),
        (["2"], "failed", "approval.refused"),
        (["0", "1"], "passed", "approval.passed"),
        (["1", "0"], "failed", "approval.refused"),
    ],
)
def test_the_founders_latest_decision_counts(decisions: list[str], outcome: str, code: str) -> None:
    readings = [read("first_off", value, taken_at=NOON + timedelta(minutes=n)) for n, value in enumerate(decisions)]
    for given in (readings, readings[::-1]):
        verdict = judge(parsed(parse({})), with_readings(*given)).step
        assert (verdict.outcome, verdict.code) == (outcome, code)


def test_another_tick_approves_nothing() -> None:
    assert judge(parsed(parse({})), with_readings(read("guard_closed", "1"))).step.outcome == "missing"


def test_one_tick_is_asked() -> None:
    assert [(q.name, q.kind) for q in KIND.questions(parsed(parse({})))] == [("first_off", "tick")]
