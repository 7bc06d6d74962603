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
    show_quantity,
    word_of,
)

decimals = st.decimals(min_value=-10_000, max_value=10_000, places=4)


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
