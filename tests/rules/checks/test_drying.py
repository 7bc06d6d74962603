from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.checks.evidence import NOON, load, parsed, read
from tests.rules.checks.tables import Table
from traveller.rules.checks.base import Evidence, ReadingEvidence
from traveller.rules.checks.drying import KIND, DryingParams, judge
from traveller.rules.checks.limits import Limits

TABLE = Table(
    rows=(
        {"least": "4"},
        {"least": "2", "most": "4", "temperature": "75-88 C", "moisture": "0.1"},
        {"least": "210", "unit": "min", "temperature": "250 F"},
        {"least": "4", "hopper": "yes", "open": "30 min"},
    ),
    scope="load",
    full={
        "least": "4",
        "most": "8",
        "unit": "h",
        "temperature": "75-88 C",
        "moisture": "0.02",
        "hopper": "yes",
        "open": "1 h",
        "recipe": "PC",
    },
    good={"hopper": "40", "throughput": "8", "temperature": "80", "moisture": "0.01", "open": "0.5"},
    wrong_unit="s",
)

parse = KIND.parse

HOURS = parsed(parse({"least": "4"}))
FULL = parsed(parse({"least": "3,5", "most": "8", "temperature": "115-125 C", "moisture": "0,02"}))
H = 3600


def dried(seconds: float | None, *readings: ReadingEvidence) -> Evidence:
    return Evidence(loads=(load(seconds),), readings=readings)


@pytest.mark.parametrize(
    ("seconds", "outcome", "code"),
    [
        (4 * H, "passed", "held.passed"),
        (4 * H - 0.000001, "failed", "held.too_short"),
        (4 * H + 0.000001, "passed", "held.passed"),
        (None, "missing", "held.not_ended"),
    ],
)
def test_hours_in_the_dryer_are_judged_at_their_limit(seconds: float | None, outcome: str, code: str) -> None:
    verdict = judge(HOURS, dried(seconds)).step
    assert (verdict.outcome, verdict.code) == (outcome, code)


@pytest.mark.parametrize(
    ("temperature", "unit", "moisture", "outcome", "code"),
    [
        ("115", "C", "0.02", "passed", "held.passed"),
        ("239", "F", "0.02", "passed", "held.passed"),  # 239 F is 115 C exactly
        ("238.999", "F", "0.02", "failed", "temperature.below"),
        ("257.001", "F", "0.02", "failed", "temperature.above"),
        ("120", "C", "0.0201", "failed", "moisture.above"),
        ("120", "C", "0.0199", "passed", "held.passed"),
        ("120", "K", "0.02", "missing", "temperature.unit"),
    ],
)
def test_temperature_and_moisture_are_judged_where_asked(
    temperature: str, unit: str, moisture: str, outcome: str, code: str
) -> None:
    evidence = dried(4 * H, read("temperature", temperature, unit), read("moisture", moisture, "%"))
    verdict = judge(FULL, evidence).step
    assert (verdict.outcome, verdict.code) == (outcome, code)


def test_a_reading_that_was_asked_and_not_taken_is_missing() -> None:
    assert judge(FULL, dried(4 * H, read("moisture", "0.01", "%"))).step.code == "temperature.none"
    assert judge(FULL, dried(4 * H, read("temperature", "120", "C"))).step.code == "moisture.none"


def test_words_in_place_of_moisture_are_not_dry() -> None:
    evidence = dried(4 * H, read("temperature", "120", "C"), read("moisture", "0", "%", text="n/a"))
    verdict = judge(FULL, evidence).step
    assert (verdict.outcome, verdict.code, verdict.figures["value"]) == ("missing", "moisture.not_a_number", "n/a")


def test_a_moisture_taken_during_drying_is_overtaken_but_not_one_taken_after() -> None:
    params = parsed(parse({"least": "4", "moisture": "0.02"}))
    during = read("moisture", "0.05", "%", taken_at=NOON + timedelta(hours=2))
    after = read("moisture", "0.02", "%", taken_at=NOON + timedelta(hours=4))
    wet = read("moisture", "0.03", "%", taken_at=NOON + timedelta(hours=4, minutes=5))
    again = read("moisture", "0.01", "%", taken_at=NOON + timedelta(hours=4, minutes=10))
    assert judge(params, dried(4 * H, during)).step.outcome == "failed"
    assert judge(params, dried(4 * H, during, after)).step.outcome == "passed"
    assert judge(params, dried(4 * H, after, wet, again)).step.outcome == "failed"


def test_a_reading_of_one_dryer_filling_proves_no_other() -> None:
    params = parsed(parse({"least": "4", "temperature": "80 C"}))
    loads = (load(4 * H, number=1), load(4 * H, number=2))
    one = Evidence(loads=loads, readings=(read("temperature", "80", "C", load=1),))
    assert {n: v.outcome for n, v in judge(params, one).by_load.items()} == {1: "passed", 2: "missing"}
    nameless = Evidence(loads=loads, readings=(read("temperature", "80", "C"),))
    assert {v.outcome for v in judge(params, nameless).by_load.values()} == {"missing"}


@pytest.mark.parametrize(
    ("cell", "limits"),
    [
        ("75-88 C", ("75", "88", "C")),
        ("75 to 88 °c", ("75", "88", "C")),
        ("75,5–88 C", ("75.5", "88", "C")),
        ("250F", ("250", None, "F")),
    ],
)
def test_a_temperature_has_a_unit(cell: str, limits: tuple[str, str | None, str]) -> None:
    found = parsed(parse({"least": "4", "temperature": cell})).temperature
    least, most, unit = limits
    assert found == Limits(Decimal(least), None if most is None else Decimal(most), unit)


@pytest.mark.parametrize("cell", ["120", "hot", "88-75 C", "120 K"])
def test_a_temperature_that_could_be_celsius_or_fahrenheit_is_asked_back(cell: str) -> None:
    found = parse({"least": "4", "temperature": cell})
    assert isinstance(found, list) and [error.column for error in found] == ["temperature"]


def test_every_wrong_column_is_named_at_once() -> None:
    found = parse({"least": "x", "temperature": "120", "moisture": "-1"})
    assert isinstance(found, list) and [e.column for e in found] == ["least", "temperature", "moisture"]


def test_what_is_asked_is_what_is_judged() -> None:
    assert [question.name for question in KIND.questions(HOURS)] == ["started_at", "ended_at"]
    assert [question.name for question in KIND.questions(FULL)][2:] == ["temperature", "moisture"]
    assert [box.label for box in KIND.boxes(FULL, ())] == ["In", "Out", "Dried", "Dryer", "Moisture"]


@given(st.integers(0, 10 * H), st.decimals("0", "0.1", places=4), st.decimals("100", "140", places=1))
def test_a_reading_that_arrives_never_passes_what_had_failed(seconds: int, moisture: Decimal, degrees: Decimal) -> None:
    before = judge(FULL, dried(seconds)).step.outcome
    readings = (read("moisture", str(moisture), "%"), read("temperature", str(degrees), "C"))
    for known in (readings[:1], readings[1:], readings):
        after = judge(FULL, dried(seconds, *known)).step.outcome
        assert not (before == "failed" and after != "failed")


@given(st.decimals("0", "0.1", places=4), st.decimals("0", "0.1", places=4))
def test_wetter_resin_is_never_better(moisture: Decimal, more: Decimal) -> None:
    params = DryingParams(Limits(Decimal(1), None, "h"), moisture_most=Decimal("0.02"))
    outcomes = [
        judge(params, dried(2 * H, read("moisture", str(value), "%"))).step.outcome
        for value in (moisture, moisture + more)
    ]
    assert outcomes != ["failed", "passed"]
