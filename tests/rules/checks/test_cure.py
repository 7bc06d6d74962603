"""Cures: minutes by what they are worth, in times of t90, through a thick part."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from tests.rules.checks.evidence import flat, logged, parsed, read
from tests.rules.checks.tables import Table
from traveller.rules.checks import cure

TABLE = Table(
    rows=(
        {"least": "8", "reference": "160 C", "probe": "mould", "doubling": "10"},
        {
            "least": "1",
            "most": "3",
            "unit": "t90",
            "reference": "160 C",
            "probe": "mould",
            "energy": "90",
            "t90": "6.5",
        },
        {
            "least": "1",
            "unit": "t90",
            "reference": "320 F",
            "probe": "surface",
            "doubling": "18",
            "thickness": "12",
            "start": "77 F",
        },
        {
            "least": "1",
            "unit": "t90",
            "reference": "160 C",
            "probe": "mould",
            "doubling": "10",
            "curve": "0 6; 1 5; 3 9; 7 24; 9 25,4; 12 25,5",
        },
    ),
    scope="load",
    full={
        "least": "0.9",
        "most": "2.5",
        "unit": "t90",
        "reference": "160 C",
        "energy": "92.5",
        "t90": "6.5",
        "thickness": "12.5",
        "diffusivity": "0.11",
        "shape": "cylinder",
        "conductivity": "0.22",
        "probe": "platen",
        "platen": "4",
        "transfer": "22",
        "figures": "measured 3 Mar 2026",
        "start": "25 C",
        "gap": "2 min",
    },
    instead=(
        {"least": "5", "unit": "min", "reference": "160 C", "probe": "mould", "doubling": "8.5"},
        {
            "least": "1",
            "unit": "t90",
            "reference": "160 C",
            "probe": "mould",
            "doubling": "10",
            "curve": "0 6; 1 5; 3 9; 7 24; 9 25; 12 25",
        },
    ),
    good="6.5",
    wrong_unit="h",
)


EIGHT = parsed(cure.KIND.parse({"least": "8", "most": "16", "reference": "160 C", "probe": "mould", "doubling": "10"}))


BY_T90 = parsed(
    cure.KIND.parse(
        {"least": "1", "most": "3", "unit": "t90", "reference": "160 C", "probe": "mould", "doubling": "10"}
    )
)


@pytest.mark.parametrize(
    ("celsius", "minutes", "code"),
    [
        (160, 8, "cure.passed"),
        (160, 7.9999, "cure.under"),
        (160, 16, "cure.passed"),
        (160, 16.0001, "cure.over"),
        (150, 16, "cure.passed"),
        (150, 15.9999, "cure.under"),
        (170, 4, "cure.passed"),
        (170, 8.0001, "cure.over"),
    ],
)
def test_minutes_are_counted_by_what_they_are_worth(celsius: float, minutes: float, code: str) -> None:
    """Ten degrees are worth a factor of two; eight minutes at the set temperature is common practice, no source."""
    points = [(6.0 * n, float(celsius)) for n in range(201)]
    verdict = cure.judge(EIGHT, logged(points, minutes * 60)).step
    assert verdict.code == code
    assert verdict.figures["minutes"] and verdict.figures["worth"]


def test_the_page_shows_minutes_and_their_worth() -> None:
    verdict = cure.judge(EIGHT, logged(flat(150, 12), 720)).step
    assert (verdict.figures["minutes"], verdict.figures["worth"], verdict.outcome) == ("12", "6", "failed")
    assert cure.WORDS[verdict.code].format(**verdict.figures).startswith("Load 1: 12 min are worth only 6 min at 160 C")


def test_limits_in_times_of_t90_need_one() -> None:
    evidence = logged(flat(160, 12), 720)
    assert cure.judge(BY_T90, evidence).step.code == "cure.no_rheometer"
    for t90, code in (("12", "cure.passed"), ("12.001", "cure.under"), ("4", "cure.passed"), ("3.999", "cure.over")):
        reported = replace(evidence, readings=(read("t90", t90, "min"),))
        assert cure.judge(BY_T90, reported).step.code == code, t90


CURVE = "0 6; 1 5; 2 5.4; 3 9; 4 15; 5 19.5; 6 22; 7 23.6; 8 24.5; 10 25"


@pytest.mark.parametrize(("minutes", "code"), [(6.625, "cure.passed"), (6.6249, "cure.under"), (6.6251, "cure.passed")])
def test_t90_is_computed_from_the_rheometer_curve(minutes: float, code: str) -> None:
    """ML + 0.9 (MH - ML) is reached after 6.625 min: ISO 3417, ASTM D5289 (definition from memory, curve invented)."""
    params = parsed(
        cure.KIND.parse(
            {"least": "1", "unit": "t90", "reference": "160 C", "probe": "mould", "doubling": "10", "curve": CURVE}
        )
    )
    points = [(6.0 * n, 160.0) for n in range(120)]
    assert cure.judge(params, logged(points, minutes * 60)).step.code == code
    ((_code, figures),) = cure.KIND.limit_words(params)
    assert figures["t_ninety"] == "6.63", "rounded so that no shorter cure is asked"
    # The strip of the mix that was used goes before the compound's curve.
    reported = replace(logged(points, minutes * 60), readings=(read("t90", "7", "min"),))
    assert cure.judge(params, reported).step.code == "cure.under"


@pytest.mark.parametrize(
    ("curve", "wanted"),
    [
        ("0 6; 1 5", "three points or more"),
        ("0 6; 2 5; 1 9", "in the order of their minutes"),
        ("0 6; 1 5; 2 6.9", "shows no cure"),
        ("0 6; 1 5; 2 9; 3 15; 4 21", "still rises"),
        ("0 6; 1; 2 9", "minutes and torque"),
        ("0 6; 1 x; 2 9", "minutes and torque"),
    ],
)
def test_a_curve_that_gives_no_t90_is_named_in_the_row(curve: str, wanted: str) -> None:
    row = {"least": "1", "unit": "t90", "reference": "160 C", "probe": "mould", "doubling": "10", "curve": curve}
    found = cure.KIND.parse(row)
    assert isinstance(found, list) and [error.column for error in found] == ["curve"] and wanted in found[0].wanted
    both = cure.KIND.parse({**row, "curve": CURVE, "t90": "6"})
    assert isinstance(both, list) and [error.column for error in both] == ["curve"]


def test_the_slowest_mix_of_a_load_has_to_be_cured() -> None:
    readings = (read("t90", "6", "min"), read("t90", "780", "s"))
    assert cure.judge(BY_T90, replace(logged(flat(160, 12), 720), readings=readings)).step.code == "cure.under"


def test_a_hot_surface_does_not_pass_a_raw_core() -> None:
    thin = parsed(
        cure.KIND.parse({"least": "8", "reference": "160 C", "probe": "mould", "doubling": "10", "thickness": "2"})
    )
    thick = replace(thin, inside=replace(thin.inside, thickness_mm=Decimal(25)))
    evidence = logged(flat(160, 9), 540)
    assert cure.judge(thin, evidence).step.code == "cure.passed_through"
    verdict = cure.judge(thick, evidence).step
    assert (verdict.outcome, verdict.code, verdict.figures["worth"]) == ("failed", "cure.raw_core", "9")
    assert float(str(verdict.figures["worth_centre"])) < 1
    longer = cure.judge(thick, logged(flat(160, 60), 3600)).step
    assert longer.code == "cure.passed_through"


def test_energy_and_doubling_exclude_each_other() -> None:
    for more in ({}, {"energy": "90", "doubling": "10"}):
        found = cure.KIND.parse({"least": "8", "reference": "160 C", "probe": "mould", **more})
        assert isinstance(found, list) and [error.column for error in found] == ["doubling"]
