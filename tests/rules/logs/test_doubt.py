"""Can this log's unit be right? Asked only where the other unit fits the step and the one that was read does not."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.checks.heat import heat_asked
from traveller.rules.checks.kind import Heat
from traveller.rules.checks.limits import Limits
from traveller.rules.cure import Doubling
from traveller.rules.logs import Answers, Log, Unclear, read_log
from traveller.rules.logs.doubt import unit_doubt

BAKE = Heat(Limits(Decimal(80), Decimal(95), "C"))
CURE = Heat(Limits(Decimal(160), None, "C"), rate=Doubling(10.0, 160.0))
UNTOLD = Answers()
START = datetime(2026, 3, 3, 8, 0, tzinfo=UTC)


def log_to(peak: float, unit: str, answers: Answers = UNTOLD) -> Log:
    """A log in that unit from a cool room up to its peak and down again."""
    cool = 22.0 if unit == "C" else 72.0
    rows = [f"{(START + timedelta(minutes=n)).isoformat()};{value}" for n, value in enumerate([cool, peak, peak, cool])]
    found = read_log("\r\n".join([f"time;oven ({unit})", *rows, ""]).encode(), answers)
    assert isinstance(found, Log)
    return found


@pytest.mark.parametrize(
    ("heat", "unit", "peak", "meant"),
    [
        (BAKE, "C", 185.0, "fahrenheit"),
        (BAKE, "F", 85.0, "celsius"),
        (CURE, "C", 350.0, "fahrenheit"),
        (CURE, "F", 165.0, "celsius"),
        # Right as it was read: on its mark, a little over, well under.
        (BAKE, "C", 85.0, None),
        (BAKE, "C", 97.0, None),
        (BAKE, "C", 60.0, None),
        (BAKE, "F", 185.0, None),
        (CURE, "F", 320.0, None),
        # An oven that stayed cold, or a broken sensor, is neither way right: it is judged as it was read.
        (BAKE, "C", 24.0, None),
        (BAKE, "C", 600.0, None),
    ],
)
def test_the_other_unit_is_asked_for_where_it_alone_fits(heat: Heat, unit: str, peak: float, meant: str) -> None:
    asked = unit_doubt(log_to(peak, unit), heat_asked([heat]))
    assert (asked.question if asked else None) == meant


def test_the_question_says_both_figures() -> None:
    asked = unit_doubt(log_to(350.0, "C"), heat_asked([CURE]))
    assert isinstance(asked, Unclear)
    assert asked.choices == ("F", "C") and asked.figures == {"highest": "350", "other": "176.7"}
    asked = unit_doubt(log_to(85.0, "F"), heat_asked([BAKE]))
    assert isinstance(asked, Unclear)
    assert asked.choices == ("C", "F") and asked.figures == {"highest": "85", "other": "29.4"}


def test_who_is_sure_is_not_asked_again_and_is_believed_before_the_file() -> None:
    sure = log_to(185.0, "C", Answers(unit_sure="F"))
    assert unit_doubt(sure, heat_asked([BAKE])) is None
    assert sure.said.unit == "F" and float(sure.celsius.max()) == pytest.approx(85.0)
    assert unit_doubt(log_to(185.0, "C", Answers(unit_sure="C")), heat_asked([BAKE])) is None


def test_a_step_without_a_check_that_looks_at_heat_asks_nothing() -> None:
    assert unit_doubt(log_to(350.0, "C"), heat_asked([])) is None


def test_one_check_that_the_log_fits_as_it_was_read_is_enough() -> None:
    post_cure = Heat(Limits(Decimal(180), Decimal(200), "C"))
    assert unit_doubt(log_to(185.0, "C"), heat_asked([BAKE, post_cure])) is None


@given(st.floats(30, 300).map(lambda peak: round(peak, 1)), st.integers(40, 220))
def test_no_doubt_ever_where_the_peak_lies_within_the_limits(peak: float, least: int) -> None:
    inside = Heat(Limits(Decimal(least), Decimal(least + 20), "C"))
    asked = unit_doubt(log_to(peak, "C"), heat_asked([inside]))
    assert not (asked and least <= peak <= least + 20)
