from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.checks.columns import CheckCells, plain


@pytest.mark.parametrize(
    ("cell", "value"),
    [("15", "15"), ("0.005", "0.005"), ("0,005", "0.005"), ("-40", "-40"), (" 7,5 ", "7.5"), ("1,2500", "1.25")],
)
def test_a_number_may_have_a_point_or_a_comma(cell: str, value: str) -> None:
    row = CheckCells({"least": cell})
    assert row.number("least", "a number") == Decimal(value)
    assert row.errors == []


@pytest.mark.parametrize("cell", ["abc", "1.2.3", "1e5", "NaN", "inf", "12 min", "1.25,50,5", "½", "--5", "5-"])
def test_what_is_no_number_is_named(cell: str) -> None:
    row = CheckCells({"least": cell})
    assert row.number("least", "a number") is None
    assert [(error.column, error.found, error.wanted) for error in row.errors] == [("least", cell, "a number")]


def test_a_comma_that_could_mean_thousands_is_asked_back() -> None:
    row = CheckCells({"most": "1,250"})
    assert row.number("most", "a number") is None
    assert row.errors[0].wanted == "1.250 or 1250: the comma could mean either"


def test_an_empty_or_absent_cell_is_no_error() -> None:
    row = CheckCells({"least": "  "})
    assert (row.number("least", "a number"), row.number("most", "a number")) == (None, None)
    assert (row.whole("pieces", "a whole number"), row.yes("every_cavity")) == (None, False)
    assert row.errors == []


@pytest.mark.parametrize("cell", ["0", "-1", "2.5", "two", "99999999999"])
def test_pieces_are_whole_and_at_least_one(cell: str) -> None:
    row = CheckCells({"pieces": cell})
    assert row.whole("pieces", "a whole number, 1 or more") is None
    assert [(error.column, error.wanted) for error in row.errors] == [("pieces", "a whole number, 1 or more")]


def test_yes_is_known_in_any_case_and_maybe_is_not() -> None:
    assert CheckCells({"x": "YES"}).yes("x") is True
    row = CheckCells({"x": "maybe"})
    row.yes("x")
    assert row.errors[0].wanted == "yes or no"


def test_an_empty_cell_stands_for_its_default_and_an_error_shows_what_was_typed() -> None:
    row = CheckCells({"unit": " "}, {"unit": "min"})
    assert (row.text("unit"), row.given("unit")) == ("min", "")
    row.wrong("unit", "s or min", "is no unit of time")
    assert [(e.found, e.why) for e in row.errors] == [("", "is no unit of time")] and row.is_wrong("least", "unit")


@given(st.decimals(allow_nan=False, allow_infinity=False, places=6, min_value=-(10**9), max_value=10**9))
def test_a_number_written_out_reads_back_as_itself(number: Decimal) -> None:
    assert CheckCells({"x": plain(number)}).number("x", "a number") == number


def test_idle_zeros_and_exponents_are_not_written() -> None:
    assert [plain(Decimal(text)) for text in ("15.00", "1E+2", "-0.0", "0.1270")] == ["15", "100", "0", "0.127"]
