"""What is this quantity in the part's base unit, exactly? Units, conversions, limits converted inward.

Base units are codes of UN/ECE Recommendation 20: C62 piece, GRM gram, MGM milligram, MMT millimetre,
MLT millilitre. Quantities are whole numbers of them; a conversion that would not be whole is an error.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final, Literal, get_args

__all__ = [
    "BASE_UNITS",
    "UNIT_WORDS",
    "BaseUnit",
    "DecimalSign",
    "UnitError",
    "celsius",
    "convert",
    "fahrenheit",
    "limits_inward",
    "show_quantity",
    "whole_of",
    "word_of",
]

BaseUnit = Literal["C62", "GRM", "MGM", "MMT", "MLT"]
BASE_UNITS: Final[tuple[BaseUnit, ...]] = get_args(BaseUnit)
DecimalSign = Literal[".", ","]
_Why = Literal["unit", "dimension", "not_whole", "no_room"]
Number = int | Decimal | Fraction

# Exact by definition: inch 25.4 mm and pound 453.59237 g (international yard and pound, 1959; NIST SP 811 (2008),
# appendix B). A US gallon is 231 cubic inches and holds 128 US fluid ounces (NIST Handbook 44, appendix C); an imperial
# gallon is 4.54609 l and holds 160 (UK Weights and Measures Act 1985, schedule 1; from memory).
_INCH_MM = Fraction(254, 10)
_POUND_G = Fraction(45_359_237, 100_000)
_US_GALLON_ML = 231 * _INCH_MM**3 / 1000
_IMPERIAL_GALLON_ML = Fraction(454_609, 100)

UNIT_WORDS: Final[Mapping[str, tuple[BaseUnit, Fraction]]] = {
    **dict.fromkeys(("c62", "h87", "piece", "pieces", "pc", "pcs", "each", "ea"), ("C62", Fraction(1))),
    **dict.fromkeys(("grm", "g", "gram", "grams", "gramme", "grammes"), ("GRM", Fraction(1))),
    **dict.fromkeys(("kgm", "kg", "kilogram", "kilograms", "kilo", "kilos"), ("GRM", Fraction(1000))),
    **dict.fromkeys(("mgm", "mg", "milligram", "milligrams"), ("MGM", Fraction(1))),
    **dict.fromkeys(("tne", "t", "tonne", "tonnes"), ("GRM", Fraction(1_000_000))),
    **dict.fromkeys(("lbr", "lb", "lbs", "pound", "pounds"), ("GRM", _POUND_G)),
    **dict.fromkeys(("onz", "oz", "ounce", "ounces"), ("GRM", _POUND_G / 16)),
    **dict.fromkeys(("mmt", "mm", "millimetre", "millimetres", "millimeter"), ("MMT", Fraction(1))),
    **dict.fromkeys(("cmt", "cm", "centimetre", "centimetres", "centimeter"), ("MMT", Fraction(10))),
    **dict.fromkeys(("mtr", "m", "metre", "metres", "meter", "meters"), ("MMT", Fraction(1000))),
    **dict.fromkeys(("4h", "um", "μm", "micrometre", "micrometer", "micron"), ("MMT", Fraction(1, 1000))),
    **dict.fromkeys(("inh", "in", '"', "inch", "inches"), ("MMT", _INCH_MM)),
    **dict.fromkeys(("mil", "mils", "thou"), ("MMT", _INCH_MM / 1000)),
    **dict.fromkeys(("fot", "ft", "foot", "feet"), ("MMT", _INCH_MM * 12)),
    **dict.fromkeys(("yrd", "yd", "yard", "yards"), ("MMT", _INCH_MM * 36)),
    **dict.fromkeys(("mlt", "ml", "millilitre", "millilitres", "milliliter"), ("MLT", Fraction(1))),
    **dict.fromkeys(("ltr", "l", "litre", "litres", "liter", "liters"), ("MLT", Fraction(1000))),
    **dict.fromkeys(("oza", "us fl oz"), ("MLT", _US_GALLON_ML / 128)),
    **dict.fromkeys(("ozi", "imp fl oz"), ("MLT", _IMPERIAL_GALLON_ML / 160)),
}

# Each base unit in the smallest unit of its kind, so that gram and milligram are one dimension.
_KIND: Final[Mapping[BaseUnit, tuple[str, Fraction]]] = {
    "C62": ("pieces", Fraction(1)),
    "GRM": ("mass", Fraction(1000)),
    "MGM": ("mass", Fraction(1)),
    "MMT": ("length", Fraction(1)),
    "MLT": ("volume", Fraction(1)),
}
# How a base unit is shown, largest first: the words and how many base units they hold.
_SHOWN: Final[Mapping[BaseUnit, tuple[tuple[str, int], ...]]] = {
    "C62": (("", 1),),
    "GRM": (("kg", 1000), ("g", 1)),
    "MGM": (("kg", 1_000_000), ("g", 1000), ("mg", 1)),
    "MMT": (("m", 1000), ("mm", 1)),
    "MLT": (("l", 1000), ("ml", 1)),
}


@dataclass(frozen=True, slots=True)
class UnitError:
    """Why a quantity could not be had in the unit asked for: a code and what was given."""

    why: _Why
    given: str
    unit: str = ""
    wanted: str = ""


def convert(value: Number, from_word: str, to_word: str) -> Fraction | UnitError:
    """The exact value in another unit of the same kind; pieces, mass, length and volume never mix."""
    source, target = UNIT_WORDS.get(from_word.strip().casefold()), UNIT_WORDS.get(to_word.strip().casefold())
    if source is None or target is None:
        return UnitError("unit", str(value), from_word if source is None else to_word, to_word)
    (source_kind, source_size), (target_kind, target_size) = _KIND[source[0]], _KIND[target[0]]
    if source_kind != target_kind:
        return UnitError("dimension", str(value), from_word, to_word)
    return Fraction(value) * source[1] * source_size / (target[1] * target_size)


def whole_of(value: Number, unit: str, base: BaseUnit) -> int | UnitError:
    """A quantity in whole base units. Only a unit that is no whole number of them (pound, inch) is rounded.

    >>> whole_of(25, "kg", "GRM"), whole_of(55, "lb", "GRM"), whole_of(Decimal("0.5"), "g", "GRM").why
    (25000, 24948, 'not_whole')
    """
    exact, size = convert(value, unit, base), convert(1, unit, base)
    if isinstance(exact, UnitError) or isinstance(size, UnitError):
        return exact if isinstance(exact, UnitError) else UnitError("unit", str(value), unit, base)
    if exact.denominator == 1:
        return exact.numerator
    rounded = int((exact + Fraction(1, 2)) // 1)
    if size < 1 or size.denominator == 1 or not rounded:
        return UnitError("not_whole", str(value), unit, base)
    return rounded


def word_of(base: BaseUnit) -> str:
    """The short word of a base unit itself: "g", "mm", "ml"; pieces are "pcs"."""
    return _SHOWN[base][-1][0] or "pcs"


def show_quantity(quantity: int, base: BaseUnit) -> str:
    """A quantity in the unit people use, exact: the largest unit that needs at most three decimals."""
    for word, size in _SHOWN[base]:
        shown = Decimal(abs(quantity)) / size
        if (abs(quantity) >= size and shown == shown.quantize(Decimal("0.001"))) or size == 1:
            whole, _, rest = f"{shown:f}".partition(".")
            digits = f"{int(whole):,}" + (f".{rest.rstrip('0')}" if rest.strip("0") else "")
            sign = "-" if quantity < 0 else ""
            return f"{sign}{digits} {word}".rstrip()
    raise ValueError(f"unknown base unit {base}")


def celsius(degrees_fahrenheit: Number) -> Fraction:
    """Degrees Celsius of a temperature in degrees Fahrenheit, exact."""
    return (Fraction(degrees_fahrenheit) - 32) * 5 / 9


def fahrenheit(degrees_celsius: Number) -> Fraction:
    """Degrees Fahrenheit of a temperature in degrees Celsius, exact."""
    return Fraction(degrees_celsius) * 9 / 5 + 32


def limits_inward(
    nominal: Number, tolerance: Number, unit: str, to_unit: str, decimals: int
) -> tuple[Decimal, Decimal] | UnitError:
    """Low and high limit in another unit, rounded towards the nominal so that they never widen.

    >>> limits_inward(Decimal("1"), Decimal("0.005"), "in", "mm", 2)
    (Decimal('25.28'), Decimal('25.52'))
    """
    if tolerance < 0:
        raise ValueError("a tolerance is not negative")
    low = convert(Fraction(nominal) - Fraction(tolerance), unit, to_unit)
    high = convert(Fraction(nominal) + Fraction(tolerance), unit, to_unit)
    if isinstance(low, UnitError):
        return low
    if isinstance(high, UnitError):
        return high
    scale = 10**decimals
    lowest, highest = -((-low * scale) // 1), (high * scale) // 1
    if lowest > highest:
        return UnitError("no_room", f"{nominal} +/- {tolerance}", unit, to_unit)
    return Decimal(lowest).scaleb(-decimals), Decimal(highest).scaleb(-decimals)
