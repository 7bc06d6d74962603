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

from tests.outside.altered import Case
from traveller.rules.units import UnitError, celsius, convert, fahrenheit, limits_inward


def exact(value: str, source: str, target: str) -> Fraction:
    found = convert(Decimal(value), source, target)
    assert not isinstance(found, UnitError)
    return found


LENGTHS = [
    Case(("1", "in", "mm"), Decimal("25.4")),
    Case(("1", "mil", "um"), Decimal("25.4")),
    Case(("1", "ft", "cm"), Decimal("30.48")),
    Case(("1", "yd", "m"), Decimal("0.9144")),
    Case(("0.005", "in", "mm"), Decimal("0.127")),
    Case(("0.001", "in", "mm"), Decimal("0.0254")),
    Case(("0.0005", "in", "mm"), Decimal("0.0127")),
]
EXACT_POUND = [
    Case(("1", "lb", "kg"), Decimal("0.45359237")),
    Case(("1", "lb", "g"), Decimal("453.59237")),
    Case(("1", "oz", "g"), Decimal("28.349523125")),
]
FLUID_OUNCES = [
    Case(("1", "US fl oz", "ml"), Decimal("29.5735295625")),
    Case(("1", "imp fl oz", "ml"), Decimal("28.4130625")),
]
# As printed: half a unit of the last digit.
MASSES = [
    Case(("1", "oz", "g"), Decimal("28.3495"), within=Fraction(5, 10**5)),
    Case(("1", "lb", "g"), Decimal("453.592"), within=Fraction(5, 10**4)),
    Case(("1", "kg", "lb"), Decimal("2.20462"), within=Fraction(5, 10**6)),
    Case(("1", "g", "oz"), Decimal("0.035274"), within=Fraction(5, 10**7)),
]
# C = (F - 32) 5/9; -40 and 25 C = 77 F are read in data sheets, the others computed, rounded to a hundredth.
TEMPERATURES = [
    Case(fahrenheit_, Decimal(celsius_), within=Fraction(5, 1000))
    for fahrenheit_, celsius_ in (
        (-40, "-40"), (32, "0"), (77, "25"), (180, "82.22"), (190, "87.78"), (250, "121.11"), (340, "171.11"),
    )
]  # fmt: skip
DIFFERENCES = [Case(18, Decimal(10))]


def turned(case: Case) -> None:
    """The factor, exact or within what its printed digits say."""
    assert abs(exact(*case.given) - Fraction(case.published)) <= Fraction(case.within)


def cooled(case: Case) -> None:
    """The temperature in degrees C, and back again exactly."""
    assert abs(celsius(case.given) - Fraction(case.published)) <= Fraction(case.within)
    assert fahrenheit(celsius(case.given)) == case.given


def apart(case: Case) -> None:
    """A difference of temperatures, wherever it begins."""
    assert celsius(50 + case.given) - celsius(50) == Fraction(case.published)


PUBLISHED = {
    "factors of length": (LENGTHS, turned),
    "the exact pound and its ounce": (EXACT_POUND, turned),
    "fluid ounces": (FLUID_OUNCES, turned),
    "factors of mass as printed": (MASSES, turned),
    "temperatures": (TEMPERATURES, cooled),
    "differences of temperature": (DIFFERENCES, apart),
}


@pytest.mark.parametrize("case", [*LENGTHS, *EXACT_POUND, *FLUID_OUNCES, *MASSES])
def test_a_unit_turns_into_another_as_published(case: Case) -> None:
    turned(case)


@pytest.mark.parametrize("case", TEMPERATURES)
def test_temperature_pairs_of_data_sheets(case: Case) -> None:
    cooled(case)


@pytest.mark.parametrize("case", DIFFERENCES)
def test_a_difference_of_18_degrees_f_is_one_of_10_degrees_c(case: Case) -> None:
    apart(case)


def test_five_thousandths_of_an_inch_are_written_inward_in_millimetres() -> None:
    # 0.005 in = 0.127 mm (16 CFR 500.19); the drawing's tolerance is common practice, no source.
    inch, tolerance = Decimal(1), Decimal("0.005")
    assert limits_inward(inch, tolerance, "in", "mm", 3) == (Decimal("25.273"), Decimal("25.527"))
    assert limits_inward(inch, tolerance, "in", "mm", 2) == (Decimal("25.28"), Decimal("25.52"))
