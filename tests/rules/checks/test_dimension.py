from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.checks.evidence import load, parsed, read, with_readings
from tests.rules.checks.tables import Table
from traveller.rules.checks.base import Evidence
from traveller.rules.checks.dimension import KIND, DimensionParams, judge, limits_in

TABLE = Table(
    rows=(
        {"nominal": "25.4", "tolerance": "0.127", "unit": "mm"},
        {"name": "bore", "nominal": "1", "tolerance": "0.005", "unit": "in", "inspected": "3", "every_cavity": "yes"},
    ),
    scope="lot",
    full={"name": "bore", "nominal": "2", "tolerance": "0.005", "unit": "in", "inspected": "3", "every_cavity": "yes"},
    good="2.004",
    bad="2.1",
    wrong_unit="h",
)

parse = KIND.parse

BORE = parsed(parse({"name": "bore", "nominal": "1", "tolerance": "0,005", "unit": "in"}))
WALL = parsed(parse({"name": "wall", "nominal": "2.5", "tolerance": "0.1", "unit": "mm"}))
EACH = parsed(
    parse(
        {
            "name": "bore",
            "nominal": "25.4",
            "tolerance": "0.127",
            "unit": "mm",
            "inspected": "2",
            "every_cavity": "yes",
        }
    )
)


@pytest.mark.parametrize(
    ("params", "value", "unit", "outcome", "code"),
    [
        (WALL, "2.4", "mm", "passed", "passed"),
        (WALL, "2.3999999", "mm", "failed", "below"),
        (WALL, "2.4000001", "mm", "passed", "passed"),
        (WALL, "2.6", "mm", "passed", "passed"),
        (WALL, "2.6000001", "mm", "failed", "above"),
        (BORE, "1.005", "in", "passed", "passed"),
        (BORE, "25.527", "mm", "passed", "passed"),  # 25.4 + 0.127
        (BORE, "25.5270001", "mm", "failed", "above"),
        (BORE, "25.273", "mm", "passed", "passed"),
        (BORE, "25.2729999", "mm", "failed", "below"),
        (BORE, "25.4", "", "failed", "above"),  # no unit: the one that was asked for, inches
        (BORE, "1005", "mil", "passed", "passed"),
        (BORE, "1005.0001", "mil", "failed", "above"),
        (BORE, "1", "bar", "missing", "unit"),
    ],
)
def test_a_piece_is_judged_at_its_limits(
    params: DimensionParams, value: str, unit: str, outcome: str, code: str
) -> None:
    verdict = judge(params, with_readings(read(params.name, value, unit))).step
    assert (verdict.outcome, verdict.code) == (outcome, f"dimension.{code}")


def test_the_verdict_gives_the_limits_in_the_unit_that_was_read() -> None:
    verdict = judge(BORE, with_readings(read("bore", "25.6", "mm"))).step
    words = KIND.words[verdict.code].format(**verdict.figures)
    assert words == "bore: 25.6 mm measured, 25.273 to 25.527 mm allowed."


ROUND = parsed(parse({"name": "length", "nominal": "50", "tolerance": "1", "unit": "mm"}))


@pytest.mark.parametrize(
    ("value", "unit", "outcome"),
    [
        ("2.005", "in", "passed"),  # 50.927 mm
        ("2005", "mil", "passed"),
        ("50.927", "mm", "passed"),
        ("2.00787", "in", "passed"),  # 50.999898 mm
        ("2.00788", "in", "failed"),  # 51.000152 mm
        ("1.92913", "in", "failed"),  # 48.999902 mm
        ("1.92914", "in", "passed"),
    ],
)
def test_one_length_has_one_verdict_in_whatever_unit_it_was_read(value: str, unit: str, outcome: str) -> None:
    assert judge(ROUND, with_readings(read("length", value, unit))).step.outcome == outcome


@given(st.decimals("1.9", "2.1", places=5))
def test_the_limits_that_are_shown_never_contradict_the_verdict(value: Decimal) -> None:
    verdict = judge(ROUND, with_readings(read("length", str(value), "in"))).step
    if verdict.outcome == "failed":
        assert verdict.figures["unit"] == "in"
        assert not Decimal(str(verdict.figures["least"])) <= value <= Decimal(str(verdict.figures["most"]))
    else:
        assert 49 <= value * Decimal("25.4") <= 51


def test_the_worst_piece_is_named() -> None:
    readings = [read("wall", value, "mm", piece=n) for n, value in enumerate(("2.61", "2.2", "2.5"), start=1)]
    assert judge(WALL, with_readings(*readings)).step.figures["piece"] == 2


def test_every_open_cavity_needs_its_pieces() -> None:
    readings = [read("bore", "25.4", "mm", cavity=cavity, piece=piece) for cavity in (1, 2) for piece in (1, 2)]
    assert judge(EACH, with_readings(*readings, open_cavities=(1, 2))).step.outcome == "passed"
    short = judge(EACH, with_readings(*readings[:3], open_cavities=(1, 2))).step
    assert (short.outcome, short.figures["cavity"], short.figures["found"]) == ("missing", 2, 1)
    assert judge(EACH, with_readings(*readings[:2], open_cavities=(1,))).step.outcome == "passed"


def test_nobody_can_measure_cavities_that_are_not_known() -> None:
    assert judge(EACH, with_readings(read("bore", "25.4", "mm"))).step.code == "dimension.cavities_unknown"


def test_one_piece_measured_twice_is_one_piece() -> None:
    twice = [read("bore", "25.4", "mm", cavity=1, piece=1)] * 2
    assert judge(EACH, with_readings(*twice, open_cavities=(1,))).step.outcome == "missing"


def test_a_reading_of_another_name_or_in_words_proves_nothing() -> None:
    assert judge(WALL, with_readings(read("bore", "2.5", "mm"))).step.code == "dimension.too_few"
    worded = judge(WALL, with_readings(read("wall", "0", "mm", text="fine"))).step
    assert (worded.outcome, worded.code) == ("missing", "dimension.not_a_number")


def test_per_load_each_load_is_measured() -> None:
    loads = (load(60, number=1), load(60, number=2))
    evidence = Evidence(loads=loads, readings=(read("wall", "2.5", "mm", load=1),))
    judged = KIND.judge(WALL, evidence, "load")
    assert {n: v.outcome for n, v in judged.by_load.items()} == {1: "passed", 2: "missing"}
    assert (judged.step.outcome, judged.step.figures["load"]) == ("missing", 2)
    assert KIND.judge(WALL, Evidence(), "load").step.code == "loads.none"


@pytest.mark.parametrize(
    ("raw", "columns"),
    [
        ({}, ["nominal", "tolerance", "unit"]),
        ({"nominal": "1", "tolerance": "0", "unit": "mm"}, ["tolerance"]),
        ({"nominal": "1", "tolerance": "-0.1", "unit": "mm"}, ["tolerance"]),
        ({"nominal": "1", "tolerance": "0.1", "unit": "cm"}, ["unit"]),
        ({"nominal": "one", "tolerance": "0.1", "unit": "mm", "inspected": "some"}, ["nominal", "inspected"]),
    ],
)
def test_a_dimension_that_makes_no_sense_is_named(raw: dict[str, str], columns: list[str]) -> None:
    found = parse(raw)
    assert isinstance(found, list) and [error.column for error in found] == columns


def test_the_limit_is_told_before_typing() -> None:
    reported = [KIND.words[code].format(**figures) for code, figures in KIND.limit_words(EACH)]
    assert reported == ["25.4 ± 0.127 mm (25.273 to 25.527)", "2 pieces from every open cavity"]
    question = KIND.questions(EACH)[0]
    assert (question.low, question.high, question.each, question.count) == ("25.273", "25.527", "cavity", 2)
    assert len(KIND.boxes(EACH, (1, 2))) == 4


nominals = st.decimals(1, 1000, places=3)
tolerances = st.decimals("0.001", 1, places=3)
sizes = st.decimals("-0.1", "0.1", places=4)


@given(nominals, tolerances, st.sampled_from(["mm", "in"]))
def test_converting_never_widens_a_tolerance(nominal: Decimal, tolerance: Decimal, unit: str) -> None:
    params = DimensionParams("x", nominal, tolerance, unit)
    other, factor = ("in", Decimal("25.4")) if unit == "mm" else ("mm", 1 / Decimal("25.4"))
    limits = limits_in(params, other)
    assert limits is not None and limits.least is not None and limits.most is not None
    slack = Decimal("1e-20")
    assert limits.least * factor >= nominal - tolerance - slack
    assert limits.most * factor <= nominal + tolerance + slack
    assert limits.least < limits.most


@given(st.lists(sizes, min_size=1, max_size=5), sizes)
def test_another_reading_never_passes_what_had_failed(offsets: list[Decimal], more: Decimal) -> None:
    readings = [read("wall", str(Decimal("2.5") + 2 * offset), "mm") for offset in offsets]
    before = judge(WALL, with_readings(*readings)).step.outcome
    after = judge(WALL, with_readings(*readings, read("wall", str(Decimal("2.5") + more), "mm"))).step.outcome
    assert not (before == "failed" and after != "failed")
