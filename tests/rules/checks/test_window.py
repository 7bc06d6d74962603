from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.checks.evidence import NOON, good, load, parsed
from tests.rules.checks.tables import Table
from traveller.rules.checks import KINDS
from traveller.rules.checks.base import CountEvidence, Evidence, LoadEvidence
from traveller.rules.checks.limits import Limits
from traveller.rules.checks.window import KIND, WindowParams, judge

TABLE = Table(
    rows=({"least": "15"}, {"least": "7,5", "most": "12", "unit": "min"}),
    scope="load",
    full={"least": "30", "most": "90", "unit": "min"},
    wrong_unit="mm",
)

parse = KIND.parse

# 15 min on the cooling fixture and 8 min of cure: common practice, no source.
FIXTURE = parsed(parse({"least": "15"}))
CURE = parsed(parse({"least": "8", "most": "12", "unit": "min"}))


@pytest.mark.parametrize(
    ("params", "seconds", "outcome", "code", "lasted"),
    [
        (FIXTURE, 900, "passed", "held.passed", "15"),
        (FIXTURE, 899.999999, "failed", "held.too_short", "14.99"),
        (FIXTURE, 900.000001, "passed", "held.passed", "15"),
        (FIXTURE, 0, "failed", "held.too_short", "0"),
        (CURE, 480, "passed", "held.passed", "8"),
        (CURE, 479.999999, "failed", "held.too_short", "7.99"),
        (CURE, 720, "passed", "held.passed", "12"),
        (CURE, 720.000001, "failed", "held.too_long", "12.01"),
        (FIXTURE, None, "missing", "held.not_ended", None),
        (FIXTURE, -60, "missing", "held.ends_before_start", None),
    ],
)
def test_a_load_is_judged_at_its_limits(
    params: WindowParams, seconds: float | None, outcome: str, code: str, lasted: str | None
) -> None:
    verdict = judge(params, Evidence(loads=(load(seconds),))).by_load[1]
    assert (verdict.outcome, verdict.code, verdict.figures.get("lasted")) == (outcome, code, lasted)


def test_a_short_load_says_why_in_figures() -> None:
    verdict = judge(FIXTURE, Evidence(loads=(load(840, number=3),))).step
    assert KIND.words[verdict.code].format(**verdict.figures) == "Load 3: 14 min, at least 15 min needed."


def test_one_short_load_fails_the_step_and_itself_alone() -> None:
    loads = (load(900, number=1), load(899, number=2), load(None, number=3))
    judged = judge(FIXTURE, Evidence(loads=loads))
    assert {number: verdict.outcome for number, verdict in judged.by_load.items()} == {
        1: "passed",
        2: "failed",
        3: "missing",
    }
    assert (judged.step.outcome, judged.step.figures["load"]) == ("failed", 2)


def test_no_load_is_no_proof() -> None:
    judged = judge(FIXTURE, Evidence(said_done=True, counts=good(5)))
    assert (judged.step.outcome, judged.step.code, judged.by_load) == ("missing", "loads.none", {})


def test_pieces_that_no_load_holds_are_missing() -> None:
    loads = (load(900, number=1, pieces=40), load(900, number=2, pieces=40))
    assert judge(FIXTURE, Evidence(loads=loads, counts=good(80))).step.code == "loads.all_passed"
    short = judge(FIXTURE, Evidence(loads=loads, counts=good(81)))
    assert (short.step.outcome, short.step.code) == ("missing", "loads.uncovered")
    assert {verdict.outcome for verdict in short.by_load.values()} == {"passed"}


def test_a_load_that_was_never_started_is_missing() -> None:
    verdict = judge(FIXTURE, Evidence(loads=(LoadEvidence(1, 4, None, NOON),))).step
    assert (verdict.outcome, verdict.code) == ("missing", "held.not_started")


def test_a_cure_across_the_hour_that_comes_twice_is_not_cut_short() -> None:
    zone = ZoneInfo("America/Chicago")
    start = datetime(2026, 11, 1, 1, 56, tzinfo=zone, fold=0)
    end = datetime(2026, 11, 1, 1, 4, tzinfo=zone, fold=1)
    assert judge(CURE, Evidence(loads=(LoadEvidence(1, 1, start, end),))).step.figures["lasted"] == "8"


def test_an_hour_on_the_clock_that_never_was_is_no_cooling() -> None:
    zone = ZoneInfo("America/Chicago")
    start, end = datetime(2026, 3, 8, 1, 55, tzinfo=zone), datetime(2026, 3, 8, 3, 0, tzinfo=zone)
    verdict = judge(FIXTURE, Evidence(loads=(LoadEvidence(1, 1, start, end),))).step
    assert (verdict.outcome, verdict.figures["lasted"]) == ("failed", "5")


def test_a_late_entry_says_why() -> None:
    late = replace(load(900), late_reason="phone was flat")
    assert judge(FIXTURE, Evidence(loads=(late,))).step.figures["late_reason"] == "phone was flat"


def test_per_step_the_whole_span_counts() -> None:
    loads = (load(300, number=1), load(300, number=2, start=NOON + timedelta(minutes=10)))
    kind = KINDS["window"]
    assert kind.judge(FIXTURE, Evidence(loads=loads), "load").step.outcome == "failed"
    whole = kind.judge(FIXTURE, Evidence(loads=loads), "step")
    assert (whole.step.code, whole.step.figures["lasted"], whole.by_load) == ("held.step_passed", "15", {})


def test_a_window_cannot_be_judged_per_piece() -> None:
    with pytest.raises(ValueError, match="per piece"):
        KINDS["window"].judge(FIXTURE, Evidence(), "piece")


@pytest.mark.parametrize(
    ("raw", "column", "wanted"),
    [
        ({}, "least", "a number here or in the column most"),
        ({"least": "-1"}, "least", "a number (min), 0 or more"),
        ({"least": "15", "most": "8"}, "most", "15 or more, since the least is 15"),
        ({"least": "15", "unit": "days"}, "unit", "s or min or h"),
        ({"least": "fifteen"}, "least", "a number (min)"),
    ],
)
def test_a_window_that_makes_no_sense_is_named(raw: dict[str, str], column: str, wanted: str) -> None:
    found = parse(raw)
    assert isinstance(found, list)
    assert (found[0].column, found[0].wanted) == (column, wanted)


def test_the_limit_is_told_in_short() -> None:
    reported = [(code, KIND.words[code].format(**figures)) for code, figures in KIND.limit_words(FIXTURE)]
    assert reported == [("limit.at_least", "15 min or more")]
    assert [code for code, _ in KIND.limit_words(CURE)] == ["limit.between"]


minutes = st.decimals(min_value=0, max_value=600, places=2)
lengths = st.integers(min_value=0, max_value=40_000_000_000).map(lambda us: us / 1_000_000)


@given(minutes, lengths, st.floats(min_value=0, max_value=10_000))
def test_a_longer_hold_never_turns_long_enough_into_too_short(least: Decimal, lasted: float, more: float) -> None:
    params = WindowParams(Limits(least, None, "min"))
    first = judge(params, Evidence(loads=(load(lasted),))).step.outcome
    then = judge(params, Evidence(loads=(load(lasted + more),))).step.outcome
    assert not (first == "passed" and then == "failed")


@given(minutes, minutes, lengths)
def test_the_figure_shown_never_contradicts_the_verdict(least: Decimal, width: Decimal, lasted: float) -> None:
    limits = Limits(least, least + width, "min")
    verdict = judge(WindowParams(limits), Evidence(loads=(load(lasted),))).step
    shown = Decimal(str(verdict.figures["lasted"]))
    sides = {"held.too_short": "below", "held.too_long": "above", "held.passed": "inside"}
    assert limits.side(shown) == sides[verdict.code]


@given(minutes, lengths)
def test_wider_limits_never_fail_what_passed(least: Decimal, lasted: float) -> None:
    narrow, wide = WindowParams(Limits(least, least + 5, "min")), WindowParams(Limits(least / 2, least + 6, "min"))
    if judge(narrow, Evidence(loads=(load(lasted),))).step.outcome == "passed":
        assert judge(wide, Evidence(loads=(load(lasted),))).step.outcome == "passed"


@given(st.lists(st.none() | lengths, min_size=1, max_size=6))
def test_another_load_never_betters_the_step(loads: list[float | None]) -> None:
    made = tuple(load(length, number=number) for number, length in enumerate(loads, start=1))
    weight = {"passed": 0, "missing": 1, "failed": 2}
    fewer = judge(FIXTURE, Evidence(loads=made[:-1] or made)).step.outcome
    assert weight[judge(FIXTURE, Evidence(loads=made)).step.outcome] >= weight[fewer]


def test_a_load_still_in_says_nothing_against_those_that_came_out() -> None:
    out = LoadEvidence(1, 24, NOON, NOON + timedelta(minutes=15))
    still = LoadEvidence(2, 24, NOON, None)
    both = Evidence(loads=(out, still), counts=CountEvidence(good=24))
    assert judge(FIXTURE, both).step.outcome == "passed"
    assert judge(FIXTURE, both).by_load[2].outcome == "missing"
    # Alone, or once the step is said to be done, or for pieces that only it could cover, it is missing evidence.
    assert judge(FIXTURE, replace(both, loads=(still,))).step.outcome == "missing"
    assert judge(FIXTURE, replace(both, said_done=True)).step.outcome == "missing"
    assert judge(FIXTURE, replace(both, counts=CountEvidence(good=25))).step.outcome == "missing"
