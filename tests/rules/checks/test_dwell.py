from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.checks.evidence import NOON, load, parsed
from tests.rules.checks.tables import Table
from traveller.rules.checks.base import Evidence
from traveller.rules.checks.dwell import KIND, DwellParams, judge
from traveller.rules.checks.limits import Limits

TABLE = Table(
    rows=({"most": "60", "unit": "s"}, {"least": "12", "most": "72", "unit": "h", "after": "30"}),
    scope="step",
    full={"least": "12", "most": "72", "unit": "h", "after": "10"},
    wrong_unit="kg",
)

parse = KIND.parse

# Ink stands at least an hour before the next colour, the pin goes in within a minute: common practice, no source.
OVERPRINT = parsed(parse({"least": "60", "most": "240"}))
PIN = parsed(parse({"most": "60", "unit": "s"}))
# Adhesion can change after printing, so it is tested at 12-72 h: common practice, no source.
ADHESION = parsed(parse({"least": "12", "most": "72", "unit": "h"}))


def after(seconds: float, number: int = 1) -> Evidence:
    start = NOON + timedelta(seconds=seconds)
    return Evidence(loads=(load(None, number=number, start=start),), previous_ended_at=NOON)


@pytest.mark.parametrize(
    ("params", "seconds", "outcome", "code"),
    [
        (OVERPRINT, 3600, "passed", "dwell.passed"),
        (OVERPRINT, 3599.999999, "failed", "dwell.too_short"),
        (OVERPRINT, 3600.000001, "passed", "dwell.passed"),
        (OVERPRINT, 14400, "passed", "dwell.passed"),
        (OVERPRINT, 14400.000001, "failed", "dwell.too_long"),
        (PIN, 60, "passed", "dwell.passed"),
        (PIN, 59.999999, "passed", "dwell.passed"),
        (PIN, 60.000001, "failed", "dwell.too_long"),
        (PIN, 0, "passed", "dwell.passed"),
        (ADHESION, 12 * 3600, "passed", "dwell.passed"),
        (ADHESION, 12 * 3600 - 0.000001, "failed", "dwell.too_short"),
        (ADHESION, 72 * 3600, "passed", "dwell.passed"),
        (ADHESION, 72 * 3600 + 0.000001, "failed", "dwell.too_long"),
        (PIN, -1, "missing", "dwell.started_before_end"),
    ],
)
def test_a_wait_is_judged_at_its_limits(params: DwellParams, seconds: float, outcome: str, code: str) -> None:
    verdict = judge(params, after(seconds)).by_load[1]
    assert (verdict.outcome, verdict.code) == (outcome, code)


def test_a_wait_says_why_in_figures() -> None:
    verdict = judge(PIN, after(75)).step
    words = KIND.words[verdict.code].format(**verdict.figures)
    assert words == "Load 1: started 75 s after the step before, at most 60 s allowed."


def test_an_end_that_nobody_recorded_is_missing() -> None:
    verdict = judge(PIN, Evidence(loads=(load(None),))).step
    assert (verdict.outcome, verdict.code) == ("missing", "dwell.no_end_before")


def test_a_step_without_loads_is_judged_by_its_own_start() -> None:
    started = Evidence(previous_ended_at=NOON, started_at=NOON + timedelta(seconds=61))
    assert judge(PIN, started).step.code == "dwell.step_too_long"
    assert judge(PIN, Evidence(previous_ended_at=NOON)).step.code == "dwell.step_not_started"


@pytest.mark.parametrize(
    ("minutes", "outcome"),
    [
        (30, "failed"),  # even what ended first has waited less than an hour
        (70, "missing"),  # what ended last may have waited 40 minutes only
        (100, "passed"),
        (250, "missing"),  # what ended first may have waited too long
        (280, "failed"),
    ],
)
def test_pieces_of_several_loads_are_proved_only_when_all_of_them_are(minutes: int, outcome: str) -> None:
    evidence = Evidence(
        loads=(load(None, start=NOON + timedelta(minutes=minutes)),),
        previous_first_ended_at=NOON,
        previous_ended_at=NOON + timedelta(minutes=30),
    )
    assert judge(OVERPRINT, evidence).step.outcome == outcome


def test_no_load_that_starts_before_the_last_end_is_passed() -> None:
    evidence = Evidence(
        loads=(load(None, start=NOON + timedelta(minutes=5)),),
        previous_first_ended_at=NOON,
        previous_ended_at=NOON + timedelta(minutes=30),
    )
    verdict = judge(parsed(parse({"most": "20"})), evidence).step
    assert (verdict.outcome, verdict.code, verdict.figures["shortest"]) == ("missing", "dwell.cannot_tell", "0")


@given(st.integers(0, 10_000), st.integers(0, 10_000), st.integers(0, 500))
def test_waiting_longer_never_turns_long_enough_into_too_short(waited: int, more: int, least: int) -> None:
    params = DwellParams(Limits(Decimal(least), None, "s"))
    assert (judge(params, after(waited)).step.outcome, judge(params, after(waited + more)).step.outcome) != (
        "passed",
        "failed",
    )


@given(st.integers(0, 10_000), st.integers(0, 10_000), st.integers(0, 10_000))
def test_not_knowing_which_load_never_passes_what_failed(first: int, spread: int, start: int) -> None:
    began = NOON + timedelta(seconds=start)
    last = NOON + timedelta(seconds=first + spread)
    sure = Evidence(loads=(load(None, start=began),), previous_ended_at=last)
    unsure = Evidence(
        loads=(load(None, start=began),),
        previous_ended_at=last,
        previous_first_ended_at=NOON + timedelta(seconds=first),
    )
    if judge(OVERPRINT, sure).step.outcome != "passed":
        assert judge(OVERPRINT, unsure).step.outcome != "passed"


def test_a_wait_may_be_counted_from_a_step_further_back() -> None:
    """Adhesion is tested 12-72 h after printing, whatever was baked between."""
    params = parsed(parse({"least": "12", "most": "72", "unit": "h", "after": "30"}))
    start = NOON + timedelta(hours=12)
    evidence = Evidence(started_at=start, previous_ended_at=start - timedelta(minutes=5), ends={30: (None, NOON)})
    assert judge(params, evidence).step.code == "dwell.step_passed"
    assert judge(params, replace(evidence, started_at=start - timedelta(seconds=1))).step.code == "dwell.step_too_short"
    assert judge(params, replace(evidence, ends={})).step.code == "dwell.no_end_before"
    assert KIND.limit_words(params)[-1] == ("limit.after", {"after": 30})
    for wrong in ("0", "print"):
        found = parse({"least": "12", "after": wrong})
        assert isinstance(found, list) and [error.column for error in found] == ["after"]
