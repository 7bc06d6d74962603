from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.checks.evidence import parsed, read, with_readings
from tests.rules.checks.tables import Table
from traveller.rules.checks.reading import KIND, ReadingParams, judge

TABLE = Table(
    rows=(
        {"name": "hardness", "least": "55", "most": "65", "unit": "Shore A", "inspected": "3"},
        {"name": "dew point", "most": "-30", "unit": "C"},
        {"name": "temperature", "least": "20", "unit": "C", "plausible": "-5-260"},
    ),
    scope="step",
    full={
        "name": "oven",
        "least": "80",
        "most": "95.5",
        "unit": "C",
        "inspected": "2",
        "plausible": "20-260",
        "recipe": "surface before two-component ink",
    },
    good="90",
    bad="120",
)

parse = KIND.parse

HARDNESS = parsed(parse({"name": "hardness", "least": "55", "most": "65", "unit": "Shore A", "inspected": "3"}))
OVEN = parsed(parse({"name": "oven", "least": "60", "most": "80", "unit": "C"}))
WEIGHT = parsed(parse({"name": "weight", "most": "453.59237", "unit": "g"}))


@pytest.mark.parametrize(
    ("params", "value", "unit", "outcome", "code"),
    [
        (OVEN, "60", "C", "passed", "passed"),
        (OVEN, "59.999", "C", "failed", "below"),
        (OVEN, "60.001", "C", "passed", "passed"),
        (OVEN, "80", "C", "passed", "passed"),
        (OVEN, "80.001", "C", "failed", "above"),
        (OVEN, "140", "F", "passed", "passed"),
        (OVEN, "139.999", "°F", "failed", "below"),
        (OVEN, "176.001", "F", "failed", "above"),
        (OVEN, "70", "bar", "missing", "unit"),
        (WEIGHT, "1", "lb", "passed", "passed"),
        (WEIGHT, "1.0000001", "lb", "failed", "above"),
    ],
)
def test_a_reading_is_judged_at_its_limits(
    params: ReadingParams, value: str, unit: str, outcome: str, code: str
) -> None:
    verdict = judge(params, with_readings(read(params.name, value, unit))).step
    assert (verdict.outcome, verdict.code) == (outcome, f"reading.{code}")


@pytest.mark.parametrize(
    ("values", "outcome"),
    [
        (["60", "61", "62"], "passed"),
        (["60", "61"], "missing"),
        ([], "missing"),
        (["60", "61", "66"], "failed"),
        (["66"], "failed"),
        (["60", "61", "62", "66"], "failed"),
    ],
)
def test_enough_readings_must_be_inside_and_none_outside(values: list[str], outcome: str) -> None:
    evidence = with_readings(*(read("hardness", value, "shore a") for value in values))
    assert judge(HARDNESS, evidence).step.outcome == outcome


def test_the_words_give_value_and_limit_each_with_its_unit() -> None:
    verdict = judge(OVEN, with_readings(read("oven", "350", "F"))).step
    assert KIND.words[verdict.code].format(**verdict.figures) == "oven: 350 F, at most 80 C allowed."
    passed = judge(OVEN, with_readings(read("oven", "150", "F"), read("oven", "62", "C"))).step
    words = KIND.words[passed.code].format(**passed.figures)
    assert words == "oven: 2 read, from 62 C to 150 F."


@pytest.mark.parametrize(
    ("raw", "columns"),
    [
        ({}, ["name", "unit", "least"]),
        ({"name": "oven", "unit": "C"}, ["least"]),
        ({"name": "oven", "unit": "C", "least": "80", "most": "60"}, ["most"]),
        ({"name": "oven", "unit": "C", "least": "warm"}, ["least"]),
    ],
)
def test_a_reading_that_makes_no_sense_is_named(raw: dict[str, str], columns: list[str]) -> None:
    found = parse(raw)
    assert isinstance(found, list) and [error.column for error in found] == columns


def test_the_page_and_the_paper_ask_for_as_many_as_are_judged() -> None:
    question = KIND.questions(HARDNESS)[0]
    assert (question.unit, question.low, question.high, question.each, question.count) == (
        "Shore A",
        "55",
        "65",
        "piece",
        3,
    )
    assert [box.label for box in KIND.boxes(HARDNESS, ())] == ["hardness 1", "hardness 2", "hardness 3"]
    assert [box.label for box in KIND.boxes(OVEN, ())] == ["oven"]


degrees = st.decimals(-50, 200, places=2)


@given(degrees)
def test_celsius_and_fahrenheit_never_disagree(value: Decimal) -> None:
    fahrenheit = value * 9 / 5 + 32
    outcomes = {
        judge(OVEN, with_readings(read("oven", str(value), "C"))).step.outcome,
        judge(OVEN, with_readings(read("oven", str(fahrenheit), "F"))).step.outcome,
    }
    assert len(outcomes) == 1


@given(st.lists(degrees, max_size=4), degrees)
def test_another_reading_never_passes_what_had_failed(values: list[Decimal], more: Decimal) -> None:
    readings = [read("oven", str(value), "C") for value in values]
    before = judge(OVEN, with_readings(*readings)).step.outcome
    after = judge(OVEN, with_readings(*readings, read("oven", str(more), "C"))).step.outcome
    assert not (before == "failed" and after != "failed")
