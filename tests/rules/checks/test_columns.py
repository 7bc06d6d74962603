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


@pytest.mark.parametrize("cell", ["abc", "1.2.3", "1e5", "NaN", "inf", "12 min", "1.250,5", "½"])
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
    assert (row.whole("pieces", 1), row.yes("every_cavity"), row.unit("unit", ("min",), "min")) == (1, False, "min")
    assert row.errors == []


@pytest.mark.parametrize("cell", ["0", "-1", "2.5", "two", "99999999999"])
def test_pieces_are_whole_and_at_least_one(cell: str) -> None:
    row = CheckCells({"pieces": cell})
    row.whole("pieces", 1)
    assert row.errors[0].column == "pieces"


def test_yes_is_known_in_any_case_and_maybe_is_not() -> None:
    assert CheckCells({"x": "YES"}).yes("x") is True
    row = CheckCells({"x": "maybe"})
    row.yes("x")
    assert row.errors[0].wanted == "yes or no"


def test_an_unknown_unit_names_those_that_are_known() -> None:
    row = CheckCells({"unit": "furlong"})
    row.unit("unit", ("mm", "in"), "mm")
    assert row.errors[0].wanted == "mm or in"
    assert CheckCells({"unit": "MM"}).unit("unit", ("mm", "in"), "in") == "mm"


@given(st.decimals(allow_nan=False, allow_infinity=False, places=6, min_value=-(10**9), max_value=10**9))
def test_a_number_written_out_reads_back_as_itself(number: Decimal) -> None:
    assert CheckCells({"x": plain(number)}).number("x", "a number") == number


def test_idle_zeros_and_exponents_are_not_written() -> None:
    assert [plain(Decimal(text)) for text in ("15.00", "1E+2", "-0.0", "0.1270")] == ["15", "100", "0", "0.127"]
