"""Units against published factors.

Length and mass factors: 16 CFR 500.19, conversion factors, table in (a); NIST SP 811 (2008), appendix B.
The exact pound, 0.453 592 37 kg: international yard and pound agreement of 1959 (Federal Register 24, 5348), and
NIST SP 811 (2008), appendix B.8; both from memory, and the six digits printed in the table of 16 CFR 500.19 confirm it.
US fluid ounce: 231 cubic inches to the gallon, 128 to it, NIST Handbook 44, appendix C; imperial: 4.54609 l to the
gallon, 160 to it, UK Units of Measurement Regulations 1995; both from memory.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from traveller.rules.units import UnitError, celsius, convert, fahrenheit, limits_inward


def exact(value: str, source: str, target: str) -> Fraction:
    found = convert(Decimal(value), source, target)
    assert not isinstance(found, UnitError)
    return found


@pytest.mark.parametrize(
    ("value", "source", "target", "expected"),
    [
        ("1", "in", "mm", "25.4"),
        ("1", "mil", "um", "25.4"),
        ("1", "ft", "cm", "30.48"),
        ("1", "yd", "m", "0.9144"),
        ("0.005", "in", "mm", "0.127"),
        ("0.001", "in", "mm", "0.0254"),
        ("0.0005", "in", "mm", "0.0127"),
    ],
)
def test_length_factors_are_exact(value: str, source: str, target: str, expected: str) -> None:
    assert exact(value, source, target) == Fraction(expected)


@pytest.mark.parametrize(
    ("source", "target", "printed"),
    [("oz", "g", "28.3495"), ("lb", "g", "453.592"), ("kg", "lb", "2.20462"), ("g", "oz", "0.035274")],
)
def test_mass_factors_agree_with_the_printed_digits(source: str, target: str, printed: str) -> None:
    last_digit = Fraction(1, 10 ** len(printed.partition(".")[2]))
    assert abs(exact("1", source, target) - Fraction(printed)) <= last_digit / 2


@pytest.mark.parametrize(
    ("source", "target", "published"),
    [("lb", "kg", "0.45359237"), ("lb", "g", "453.59237"), ("oz", "g", "28.349523125"),
     ("US fl oz", "ml", "29.5735295625"), ("imp fl oz", "ml", "28.4130625")],
)  # fmt: skip
def test_pound_ounce_and_fluid_ounces_are_exact(source: str, target: str, published: str) -> None:
    assert exact("1", source, target) == Fraction(published)


def test_a_difference_of_18_degrees_f_is_one_of_10_degrees_c() -> None:
    assert celsius(50 + 18) - celsius(50) == 10


@pytest.mark.parametrize(
    ("in_fahrenheit", "in_celsius"),
    [(-40, "-40"), (32, "0"), (77, "25"), (180, "82.22"), (190, "87.78"), (250, "121.11"), (340, "171.11")],
)
def test_temperature_pairs_of_data_sheets(in_fahrenheit: int, in_celsius: str) -> None:
    # C = (F - 32) 5/9; -40 and 25 C = 77 F are read in data sheets, the others computed.
    assert abs(celsius(in_fahrenheit) - Fraction(in_celsius)) <= Fraction(5, 1000)
    assert fahrenheit(celsius(in_fahrenheit)) == in_fahrenheit


def test_five_thousandths_of_an_inch_are_written_inward_in_millimetres() -> None:
    # 0.005 in = 0.127 mm (16 CFR 500.19); the drawing's tolerance is common practice, no source.
    inch, tolerance = Decimal(1), Decimal("0.005")
    assert limits_inward(inch, tolerance, "in", "mm", 3) == (Decimal("25.273"), Decimal("25.527"))
    assert limits_inward(inch, tolerance, "in", "mm", 2) == (Decimal("25.28"), Decimal("25.52"))
