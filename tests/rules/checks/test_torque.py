"""Every fastener tight enough and none too tight: each by itself, in whatever unit it was read."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.checks.evidence import parsed, read, with_readings
from tests.rules.checks.tables import Table
from traveller.rules.checks.limits import in_unit
from traveller.rules.checks.torque import KIND, TORQUE, TorqueParams, judge
from traveller.rules.mixed_up import meant_unit
from traveller.rules.other_units import other_limit, other_unit, system_of

TABLE = Table(
    rows=(
        {"nominal": "0,6", "tolerance": "0.06", "unit": "Nm"},
        {"name": "lid", "nominal": "5", "tolerance": "0.5", "unit": "lbf in", "fasteners": "4 x M3", "inspected": "2"},
        {"nominal": "60", "tolerance": "6", "unit": "cN m", "fasteners": "left; right; 2"},
    ),
    scope="lot",
    full={"name": "lid", "nominal": "0.6", "tolerance": "0.06", "unit": "N m", "fasteners": "4 x M3", "inspected": "2"},
    good="0.62",
    bad="0.7",
    wrong_unit="h",
)
ONE = parsed(KIND.parse({"nominal": "0.6", "tolerance": "0.06", "unit": "N m"}))
LID = parsed(KIND.parse(TABLE.full))


def sentence(params: TorqueParams, *readings: tuple[str, str, str, int | None]) -> tuple[str, str]:
    """Outcome and words for readings of (fastener, value, unit, piece)."""
    told = [read(name, value, unit, piece=piece) for name, value, unit, piece in readings]
    verdict = judge(params, with_readings(*told)).step
    return verdict.outcome, KIND.words[verdict.code].format(**verdict.figures)


def all_of(value: str, unit: str = "", **other: str) -> list[tuple[str, str, str, int | None]]:
    """Every fastener of both lids; `other` by the fastener's number, on the second lid."""
    return [
        (f"lid M3 {n}", other.get(f"n{n}", value) if piece == 2 else value, unit, piece)
        for piece in (1, 2)
        for n in range(1, 5)
    ]


@pytest.mark.parametrize(
    ("value", "unit", "outcome"),
    [
        ("0.54", "", "passed"),
        ("0.66", "N m", "passed"),
        ("0.539999", "", "failed"),
        ("0.660001", "", "failed"),
        ("54", "cN m", "passed"),
        ("53.99", "cNm", "failed"),
        # 0.54 N m are 4.77940... lbf in, 0.66 N m 5.84149...: by the definitions of pound-force and inch.
        ("4.7796", "lbf in", "passed"),
        ("4.7794", "in-lb", "failed"),
        ("5.8414", "lbf·in", "passed"),
        ("5.8415", "lbf in", "failed"),
        ("0.45", "lbf ft", "passed"),
        ("0.5", "ft lb", "failed"),
        # 6 kgf cm are 0.588399 N m.
        ("6", "kgf cm", "passed"),
        ("0.6", "h", "missing"),
        ("0.6", "mm", "missing"),
    ],
)
def test_a_fastener_is_judged_at_its_limits_in_any_unit_of_torque(value: str, unit: str, outcome: str) -> None:
    assert judge(ONE, with_readings(read("torque", value, unit))).step.outcome == outcome


@pytest.mark.parametrize(
    ("unit", "newton_metres"),
    [
        ("lbf in", Fraction(4_4482216152605, 10**13) * Fraction(254, 10_000)),
        ("lbf ft", Fraction(4_4482216152605, 10**13) * Fraction(3048, 10_000)),
        ("kgf cm", Fraction(980665, 10**7)),
        ("cN m", Fraction(1, 100)),
    ],
)
def test_units_of_torque_are_exact_by_their_definitions(unit: str, newton_metres: Fraction) -> None:
    assert in_unit(Decimal(1), unit, "N m") == newton_metres
    assert in_unit(Decimal(1), "N m", unit) == 1 / newton_metres
    assert in_unit(Decimal(1), unit, "mm") is None and in_unit(Decimal(1), unit, "min") is None


def test_one_loose_screw_of_eight_fails_and_is_named_with_its_piece() -> None:
    assert sentence(LID, *all_of("0.6"))[0] == "passed"
    assert sentence(LID, *all_of("0.6", n3="0.5")) == (
        "failed",
        "lid M3 3 of piece 2: 0.5 N m is too low; 0.54 to 0.66 N m allowed. Outside: 1 of 8.",
    )
    assert sentence(LID, *all_of("0.6", n1="0.5", n4="0.9")) == (
        "failed",
        "lid M3 4 of piece 2: 0.9 N m is too high; 0.54 to 0.66 N m allowed. Outside: 2 of 8.",
    )
    assert sentence(ONE, ("torque", "0.7", "", None))[1].startswith("torque: 0.7 N m is too high")
    assert sentence(ONE, ("torque", "0.1", "", None))[1].startswith("torque: 0.1 N m is too low")


def test_what_was_read_in_another_unit_is_shown_in_it() -> None:
    assert sentence(ONE, ("torque", "8", "lbf in", None))[1] == (
        "torque: 8 lbf in is too high; 0.54 to 0.66 N m allowed. Outside: 1 of 1."
    )
    assert sentence(LID, *all_of("5.5", "lbf in")) == (
        "passed",
        "lid: 8 fasteners read, from 5.5 lbf in to 5.5 lbf in; 0.54 to 0.66 N m allowed.",
    )


def test_a_fastener_that_was_not_read_is_missing_and_named() -> None:
    without = [one for one in all_of("0.6") if one[0] != "lid M3 2" or one[3] == 1]
    assert sentence(LID, *without) == ("missing", "lid M3 2: read on 1 of 2 pieces.")
    twice = [*without, ("lid M3 2", "0.6", "", 1)]
    assert sentence(LID, *twice)[0] == "missing", "one piece read twice is one piece"
    assert sentence(ONE) == ("missing", "torque: read on 0 of 1 pieces.")


def test_a_loose_one_fails_before_all_are_read_and_words_are_no_torque() -> None:
    assert sentence(LID, ("lid M3 1", "0.2", "", 1))[0] == "failed"
    said = with_readings(read("torque", "0", text="tight"))
    assert KIND.words[judge(ONE, said).step.code].format(**judge(ONE, said).step.figures) == (
        "torque: tight is not a number."
    )
    assert sentence(ONE, ("torque", "0.6", "bar", None)) == (
        "missing", "torque: bar was read where N m is asked for."
    )  # fmt: skip


@pytest.mark.parametrize(
    ("cell", "names"),
    [
        ("", ("lid",)),
        ("1", ("lid",)),
        ("3", ("lid fastener 1", "lid fastener 2", "lid fastener 3")),
        ("2 x M3x8", ("lid M3x8 1", "lid M3x8 2")),
        ("left; right", ("lid left", "lid right")),
        ("2 x M3; hinge", ("lid M3 1", "lid M3 2", "lid hinge")),
        # A screw is called by thread and length: M3 x 8 is one screw, eight long.
        ("M3 x 8", ("lid M3 x 8",)),
    ],
)
def test_fasteners_are_counted_or_named(cell: str, names: tuple[str, ...]) -> None:
    params = parsed(KIND.parse({**TABLE.full, "fasteners": cell}))
    assert tuple(question.name for question in KIND.questions(params)) == names
    assert {box.label.removesuffix(" piece 1").removesuffix(" piece 2") for box in KIND.boxes(params, ())} == {*names}
    assert len(KIND.boxes(params, ())) == 2 * len(names)


@pytest.mark.parametrize(
    ("row", "column", "wanted"),
    [
        ({"unit": "h"}, "unit", "N m or cN m or lbf in or lbf ft or kgf cm"),
        ({"unit": ""}, "unit", "N m or cN m or lbf in or lbf ft or kgf cm"),
        ({"nominal": "0"}, "nominal", "a number (N m)"),
        ({"tolerance": ""}, "tolerance", "a number above 0 (N m)"),
        ({"tolerance": "0.6"}, "tolerance", "less than the nominal, 0.6 N m"),
        ({"fasteners": "0"}, "fasteners", "how many, or their names: 4, or 4 x M3, or left; right"),
        ({"fasteners": "left; left"}, "fasteners", "how many, or their names: 4, or 4 x M3, or left; right"),
        ({"fasteners": "99"}, "fasteners", "how many, or their names: 4, or 4 x M3, or left; right"),
        ({"fasteners": "x" * 50}, "fasteners", "names that together with lid are at most 40 characters long"),
    ],
)
def test_a_torque_that_makes_no_sense_is_named(row: dict[str, str], column: str, wanted: str) -> None:
    found = KIND.parse({**TABLE.full, **row})
    assert isinstance(found, list) and [(fault.column, fault.wanted) for fault in found] == [(column, wanted)]


def test_a_unit_is_kept_in_its_usual_form() -> None:
    for typed, usual in (("Nm", "N m"), ("N·m", "N m"), ("in-lb", "lbf in"), ("FT LB", "lbf ft"), ("kg-cm", "kgf cm")):
        assert parsed(KIND.parse({**TABLE.full, "unit": typed})).unit == usual
    assert {TORQUE.unit(unit) for unit in TORQUE.units} == set(TORQUE.units)


def test_who_reads_inch_and_pound_sees_the_limit_no_wider_and_a_slip_of_the_unit_is_asked_about() -> None:
    assert (other_unit("N m"), system_of("N m"), system_of("lbf in")) == ("lbf in", "metric", "inch_pound")
    code, figures = KIND.limit_words(ONE)[0]
    shown = other_limit(code, figures)
    assert shown is not None and shown[1]["unit"] == "lbf in"
    low, high = (in_unit(Decimal(str(shown[1][end])), "lbf in", "N m") for end in ("least", "most"))
    assert low is not None and high is not None
    assert Fraction("0.54") <= low < high <= Fraction("0.66")
    assert meant_unit(Decimal("5.3"), "N m", Fraction("0.54"), Fraction("0.66"), "N m") == "lbf in"


units = st.sampled_from(sorted(TORQUE.units))
values = st.decimals(min_value="0.001", max_value=1000, places=3)


@given(values, units, units)
def test_turning_a_unit_into_another_and_back_is_exact(value: Decimal, one: str, other: str) -> None:
    there = in_unit(value, one, other)
    back = in_unit(Decimal(1), other, one)
    assert there is not None and back is not None and there * back == Fraction(value)


@given(st.lists(st.tuples(st.integers(1, 4), st.integers(1, 2), values), max_size=12), values)
def test_a_wider_tolerance_never_fails_what_passed(told: list[tuple[int, int, Decimal]], nominal: Decimal) -> None:
    readings = with_readings(*(read(f"lid M3 {n}", str(value), piece=piece) for n, piece, value in told))
    narrow = TorqueParams("lid", nominal, nominal / 10, "N m", "4 x M3", 2)
    wide = TorqueParams("lid", nominal, nominal / 4, "N m", "4 x M3", 2)
    if judge(narrow, readings).step.outcome != "failed":
        assert judge(wide, readings).step.outcome == judge(narrow, readings).step.outcome
