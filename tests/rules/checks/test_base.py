from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from tests.rules.checks.evidence import NOON, good, load, read
from traveller.rules.checks.base import (
    Blocks,
    CheckVerdict,
    Evidence,
    LoadEvidence,
    Outcome,
    ReadingEvidence,
    as_one_load,
    blocks_purpose,
    coverage,
    elapsed,
    worst,
)
from traveller.rules.purposes import PURPOSE_ORDER, Purpose


@pytest.mark.parametrize(
    ("blocks", "stopped"),
    [
        ("step", ["start", "send", "consume", "pack", "ship"]),
        ("sending", ["send", "consume", "pack", "ship"]),
        ("consuming", ["consume", "pack", "ship"]),
        ("packing", ["pack", "ship"]),
        ("nothing", []),
    ],
)
def test_what_is_stopped_early_is_stopped_later_too(blocks: Blocks, stopped: list[Purpose]) -> None:
    assert [purpose for purpose in PURPOSE_ORDER if blocks_purpose(blocks, purpose)] == stopped


def test_time_is_counted_truly_when_clocks_go_forward() -> None:
    zone = ZoneInfo("America/Chicago")
    # 8 March 2026: 01:50 is followed ten minutes later by 03:00.
    start, end = datetime(2026, 3, 8, 1, 50, tzinfo=zone), datetime(2026, 3, 8, 3, 5, tzinfo=zone)
    assert elapsed(start, end) == timedelta(minutes=15)


def test_time_is_counted_truly_when_clocks_go_back() -> None:
    zone = ZoneInfo("America/Chicago")
    start = datetime(2026, 11, 1, 1, 50, tzinfo=zone, fold=0)
    end = datetime(2026, 11, 1, 1, 5, tzinfo=zone, fold=1)
    assert elapsed(start, end) == timedelta(minutes=15)


def test_time_is_counted_truly_between_two_zones_across_midnight() -> None:
    start = datetime(2026, 6, 1, 23, 55, tzinfo=ZoneInfo("America/New_York"))
    end = datetime(2026, 6, 1, 23, 10, tzinfo=ZoneInfo("America/Chicago"))
    assert elapsed(start, end) == timedelta(minutes=15)


def test_a_time_without_zone_is_a_fault_of_the_program() -> None:
    naive = datetime(2026, 3, 4, 12, 0)  # noqa: DTZ001
    with pytest.raises(ValueError, match="no time zone"):
        LoadEvidence(1, 1, naive, None)
    with pytest.raises(ValueError, match="no time zone"):
        ReadingEvidence("x", Decimal(1), "", naive)
    with pytest.raises(ValueError, match="no time zone"):
        Evidence(previous_ended_at=naive)


@pytest.mark.parametrize(
    ("outcomes", "gravest"),
    [
        (["passed", "missing", "failed"], "failed"),
        (["passed", "missing"], "missing"),
        (["passed", "passed"], "passed"),
    ],
)
def test_the_gravest_verdict_wins(outcomes: list[Outcome], gravest: Outcome) -> None:
    found = worst(CheckVerdict(outcome, "any") for outcome in outcomes)
    assert found is not None and found.outcome == gravest


def test_no_verdicts_have_no_gravest() -> None:
    assert worst([]) is None


def test_loads_taken_as_one_run_from_the_first_start_to_the_last_end() -> None:
    later = load(600, number=2, pieces=3, start=NOON + timedelta(hours=1))
    whole = as_one_load(Evidence(loads=(later, load(600, pieces=4)))).loads
    assert [(one.quantity, one.started_at) for one in whole] == [(7, NOON)]
    assert whole[0].ended_at == NOON + timedelta(hours=1, minutes=10)


def test_one_load_without_end_leaves_the_whole_step_without_end() -> None:
    assert as_one_load(Evidence(loads=(load(600), load(None, number=2)))).loads[0].ended_at is None


def test_a_step_without_loads_has_none_to_take_as_one() -> None:
    assert as_one_load(Evidence()) == Evidence()


def test_pieces_beyond_the_loads_are_not_covered() -> None:
    assert coverage(Evidence(loads=(load(1, pieces=10),), counts=good(10))) is None
    found = coverage(Evidence(loads=(load(1, pieces=10),), counts=good(11)))
    assert found is not None and found.figures == {"counted": 11, "covered": 10}


@pytest.mark.parametrize(
    ("value", "text", "number"),
    [
        ("61.5", "", "61.5"),
        ("61.5", "61,5", "61.5"),
        ("0", "n/a", None),  # words kept beside a zero are no zero
        ("0", "sNaN", None),
        ("NaN", "", None),
        ("Infinity", "", None),
        ("1E+999999", "", None),
    ],
)
def test_words_and_absurd_numbers_are_not_readings(value: str, text: str, number: str | None) -> None:
    found = read("hardness", value, text=text).number
    assert found == (None if number is None else Decimal(number))


def test_readings_come_oldest_first() -> None:
    late, early = read("a", "2", taken_at=NOON + timedelta(minutes=1)), read("a", "1")
    assert Evidence(readings=(late, read("b", "9"), early)).named("a") == (early, late)
    assert NOON.tzinfo is UTC
