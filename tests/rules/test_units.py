"""Quantities in base units: exact or refused, shown without rounding, limits never widened."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.units import (
    BASE_UNITS,
    UNIT_WORDS,
    BaseUnit,
    UnitError,
    celsius,
    convert,
    fahrenheit,
    limits_inward,
    read_number,
    show_quantity,
    to_base,
    word_of,
)

quantities = st.integers(min_value=-(10**13), max_value=10**13)
bases = st.sampled_from(BASE_UNITS)
decimals = st.decimals(min_value=-10_000, max_value=10_000, places=4)


@pytest.mark.parametrize(
    ("text", "word", "base", "expected"),
    [
        ("1,132", "pcs", "C62", 1132),
        ("1132", "piece", "C62", 1132),
        ("25", "kg", "GRM", 25_000),
        ("25", "KG", "MGM", 25_000_000),
        ("25,4", "kg", "GRM", 25_400),
        ("1 250.5", "g", "MGM", 1_250_500),
        (" 2.4 ", "m", "MMT", 2400),
        (".5", "l", "MLT", 500),
        ("10", "in", "MMT", 254),
        ("-3", "pcs", "C62", -3),
        ("−3", "pcs", "C62", -3),
        ("1,234,567.0", "pcs", "C62", 1_234_567),
    ],
)
def test_words_people_use_become_whole_base_units(text: str, word: str, base: BaseUnit, expected: int) -> None:
    assert to_base(text, word, base) == expected


@pytest.mark.parametrize(
    ("text", "word", "base", "why"),
    [
        ("many", "pcs", "C62", "number"),
        ("", "pcs", "C62", "number"),
        ("1,2,3", "pcs", "C62", "number"),
        ("1e6", "pcs", "C62", "number"),
        ("٣", "pcs", "C62", "number"),
        ("5", "barrel", "MLT", "unit"),
        ("5", "kg", "C62", "dimension"),
        ("5", "l", "GRM", "dimension"),
        ("1", "in", "MMT", "not_whole"),
        ("0.5", "pcs", "C62", "not_whole"),
        ("0.0005", "g", "MGM", "not_whole"),
        ("99999999999999999", "pcs", "C62", "too_large"),
    ],
)
def test_what_is_not_a_whole_quantity_is_refused_with_its_reason(
    text: str, word: str, base: BaseUnit, why: str
) -> None:
    error = to_base(text, word, base)
    assert isinstance(error, UnitError)
    assert error.why == why


@pytest.mark.parametrize(
    ("given_number", "why"), [("NaN", "number"), ("Infinity", "number"), ("1E+999999", "too_large")]
)
def test_a_decimal_that_no_shop_means_is_refused(given_number: str, why: str) -> None:
    error = to_base(Decimal(given_number), "pcs", "C62")
    assert isinstance(error, UnitError)
    assert error.why == why


def test_the_decimal_sign_decides_what_three_digits_after_it_mean() -> None:
    assert read_number("1.132") == Decimal("1.132")
    assert read_number("1,132") == Decimal(1132)
    assert read_number("1.132", ",") == Decimal(1132)
    assert read_number("1,132", ",") == Decimal("1.132")
    assert read_number("1.132,5", ",") == Decimal("1132.5")


@pytest.mark.parametrize(
    ("quantity", "base", "expected"),
    [
        (1132, "C62", "1,132"),
        (0, "C62", "0"),
        (25_000, "GRM", "25 kg"),
        (25_480, "GRM", "25.48 kg"),
        (999, "GRM", "999 g"),
        (2400, "MMT", "2.4 m"),
        (850, "MMT", "850 mm"),
        (1500, "MGM", "1.5 g"),
        (2_500_000, "MGM", "2.5 kg"),
        (1_000_001, "MGM", "1,000.001 g"),
        (1_234_567_000, "GRM", "1,234,567 kg"),
        (-3250, "MLT", "-3.25 l"),
        (0, "GRM", "0 g"),
    ],
)
def test_quantities_are_shown_in_the_unit_people_use(quantity: int, base: BaseUnit, expected: str) -> None:
    assert show_quantity(quantity, base) == expected


@given(quantities, bases)
def test_what_is_shown_reads_back_to_the_same_quantity(quantity: int, base: BaseUnit) -> None:
    number, _, word = show_quantity(quantity, base).partition(" ")
    assert to_base(number, word or "pcs", base) == quantity


@given(st.sampled_from(sorted(UNIT_WORDS)), st.sampled_from(sorted(UNIT_WORDS)), decimals)
def test_a_conversion_there_and_back_is_exact(one: str, other: str, value: Decimal) -> None:
    there = convert(value, one, other)
    if isinstance(there, UnitError):
        assert there.why == "dimension"
    else:
        assert convert(there, other, one) == Fraction(value)


def test_every_base_unit_has_its_own_code_and_word_in_the_table() -> None:
    for base in BASE_UNITS:
        assert UNIT_WORDS[base.casefold()] == (base, Fraction(1))
        assert UNIT_WORDS[word_of(base)][0] == base


@given(decimals)
def test_fahrenheit_and_celsius_undo_each_other_exactly(degrees: Decimal) -> None:
    assert fahrenheit(celsius(degrees)) == Fraction(degrees)


@given(
    decimals,
    st.decimals(min_value=0, max_value=100, places=4),
    st.sampled_from(["in", "mm", "mil", "cm"]),
    st.sampled_from(["in", "mm", "um", "cm"]),
    st.integers(0, 5),
)
def test_limits_never_widen_and_never_narrow_by_a_whole_last_place(
    nominal: Decimal, tolerance: Decimal, unit: str, to_unit: str, places: int
) -> None:
    limits = limits_inward(nominal, tolerance, unit, to_unit, places)
    low = convert(Fraction(nominal) - Fraction(tolerance), unit, to_unit)
    high = convert(Fraction(nominal) + Fraction(tolerance), unit, to_unit)
    assert isinstance(low, Fraction) and isinstance(high, Fraction)
    last_place = Fraction(1, 10**places)
    if isinstance(limits, UnitError):
        assert limits.why == "no_room"
        assert high - low < last_place
    else:
        assert low <= Fraction(limits[0]) < low + last_place
        assert high - last_place < Fraction(limits[1]) <= high


def test_limits_between_kinds_are_refused_and_a_negative_tolerance_is_a_fault() -> None:
    error = limits_inward(1, 1, "in", "kg", 2)
    assert isinstance(error, UnitError)
    assert error.why == "dimension"
    with pytest.raises(ValueError, match="not negative"):
        limits_inward(1, -1, "in", "mm", 2)
