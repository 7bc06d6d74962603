"""Numbers as people write them. The rows follow from the rule in to_decimal's docstring; no outside table."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.exchange.books import cell_date
from traveller.exchange.workbook.numbers import BadCell, to_decimal
from traveller.exchange.workbook.raw import DecimalMark, Raw, Unusable
from traveller.exchange.workbook.validate_routes import quantity_fault
from traveller.rules.units import BaseUnit, whole_of


@pytest.mark.parametrize(
    ("cell", "mark", "expected"),
    [
        ("12", None, "12"),
        (" 12 ", ".", "12"),
        (12.0, None, "12"),
        (0.1 + 0.2, None, "0.3"),
        ("0,127", ".", "0.127"),
        ("0,127", ",", "0.127"),
        ("0.005", ",", "0.005"),
        ("12,5", ".", "12.5"),
        ("1.234,5", ".", "1234.5"),
        ("1,234.5", ",", "1234.5"),
        ("1,234", ".", "1234"),
        ("1,234", ",", "1.234"),
        ("1.234", ",", "1234"),
        ("1.234", ".", "1.234"),
        ("1,234,567", None, "1234567"),
        ("1.234.567,89", None, "1234567.89"),
        ("1 234,5", None, "1234.5"),
        ("1\u00a0234", None, "1234"),
        ("1\u202f234,25", None, "1234.25"),
        ("1'234.5", None, "1234.5"),
        ("1_234", None, "1234"),
        ("'1234", None, "1234"),
        (".5", ",", "0.5"),
        ("0,125", None, "0.125"),
        ("1,300", ".", "1300"),
        ("１２，５", None, "12.5"),
        ("1’234", None, "1234"),
        ("-40", None, "-40"),
        ("٣٫٥".replace("٫", "."), None, "3.5"),
        ("\u221240,5", None, "-40.5"),
    ],
)
def test_a_number_is_read_in_either_habit(cell: Raw, mark: DecimalMark, expected: str) -> None:
    assert to_decimal(cell, mark) == Decimal(expected)


@pytest.mark.parametrize(
    ("cell", "wrong"),
    [
        ("1,234", "can be read in two ways"),
        ("1.234", "can be read in two ways"),
        ("12 kg", "is not a number"),
        ("1,23,456", "is not a number"),
        ("1.2.3", "is not a number"),
        ("--3", "has two signs"),
        ("+-3", "has two signs"),
        ("3-", "has its sign behind it"),
        ("½", "has a fraction or a raised figure in it"),
        ("1,234.", "ends with a mark"),
        ("0,125,000", "is not a number"),
        ("1e5", "is not a number"),
        ("NaN", "is not a number"),
        ("Infinity", "is not a number"),
        (True, "is not a number"),
        (cell_date(2026, 1, 5), "the spreadsheet made a date of it"),
        ("9" * 16, "is too large"),
        ("0.12345678901", "has more than 9 decimals"),
        (Unusable("#REF!", "is a spreadsheet error", "mend it"), "is a spreadsheet error"),
    ],
)
def test_what_is_no_plain_number_is_refused_in_words(cell: Raw, wrong: str) -> None:
    with pytest.raises(BadCell) as bad:
        to_decimal(cell, None)
    assert bad.value.wrong == wrong
    assert bad.value.right


def test_an_ambiguous_number_is_answered_with_both_readings() -> None:
    with pytest.raises(BadCell) as bad:
        to_decimal("1,234", None)
    assert "1234" in bad.value.right
    assert "1,2340" in bad.value.right
    assert to_decimal("1,2340", None) == Decimal("1.2340")


@given(st.decimals(min_value=-(10**9), max_value=10**9, places=3), st.sampled_from([".", ","]))
def test_any_number_written_in_the_files_own_habit_is_read_back(number: Decimal, mark: DecimalMark) -> None:
    text = f"{number:,.3f}"
    if mark == ",":
        text = text.translate(str.maketrans(",.", ".,"))
    assert to_decimal(text, mark) == number


@pytest.mark.parametrize(
    ("quantity", "unit", "base", "whole"),
    [("55", "lb", "GRM", 24_948), ("2.5", "oz", "GRM", 71), ("1", "in", "MMT", 25), ("0.125", "kg", "GRM", 125)],
)
def test_pounds_and_inches_are_converted_once_to_the_nearest_base_unit(
    quantity: str, unit: str, base: BaseUnit, whole: int
) -> None:
    assert quantity_fault(Decimal(quantity), unit, base) is None
    assert whole_of(Decimal(quantity), unit, base) == whole


@pytest.mark.parametrize(
    ("quantity", "unit", "base"), [("0.5", "g", "GRM"), ("0.0005", "kg", "GRM"), ("1.5", "piece", "C62")]
)
def test_what_is_no_whole_number_of_base_units_in_their_own_system_is_not_rounded(
    quantity: str, unit: str, base: BaseUnit
) -> None:
    fault = quantity_fault(Decimal(quantity), unit, base)
    assert fault is not None and fault[0] == "quantity"
