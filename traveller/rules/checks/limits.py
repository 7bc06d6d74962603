"""Between what and what? A least, a most and their unit, as columns, as words and as a test."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from typing import Any, Literal

from traveller.rules.checks.base import CheckFigure, LimitWord
from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.quantities import TIME, measured_alike
from traveller.rules.units import UnitError, celsius, convert, fahrenheit

__all__ = ["LIMIT_WORDS", "TIME_UNITS", "TOLERANCE_WORDS", "Limits", "Side", "in_unit", "read_limits", "shown_length"]

Side = Literal["inside", "below", "above"]

LIMIT_WORDS: Mapping[str, str] = {
    "limit.at_least": "{least} {unit} or more",
    "limit.at_most": "{most} {unit} or less",
    "limit.between": "{least} to {most} {unit}",
    "limit.exactly": "{least} {unit}",
}
# Around a nominal, and on how many pieces it is read.
TOLERANCE_WORDS: Mapping[str, str] = {
    "limit.tolerance": "{nominal} ± {tolerance} {unit} ({low} to {high})",
    "limit.pieces": "{pieces} pieces",
    "limit.piece": "one piece",
}

TIME_UNITS: Mapping[str, int] = {unit: int(size) for unit, size in TIME.units.items()}
_MICROSECOND = timedelta(microseconds=1)
_DEGREES: Mapping[str, str] = {"c": "C", "°c": "C", "degc": "C", "f": "F", "°f": "F", "degf": "F"}


def in_unit(value: Decimal, unit: str, wanted: str) -> Fraction | None:
    """The value in the wanted unit, exact; None where one does not turn into the other.

    An empty unit is the one that was asked for. Units unknown to us (Shore A, %) equal only themselves.
    """
    own, target = unit.strip().casefold(), wanted.strip().casefold()
    if not own or own == target:
        return Fraction(value)
    if own in _DEGREES and target in _DEGREES:
        if _DEGREES[own] == _DEGREES[target]:
            return Fraction(value)
        return celsius(value) if _DEGREES[target] == "C" else fahrenheit(value)
    if (times := measured_alike(own, target)) is not None:
        return Fraction(value) * times
    found = convert(value, own, target)
    return None if isinstance(found, UnitError) else found


@dataclass(frozen=True)
class Limits:
    """At least `least`, at most `most`, both included; at least one of them is given."""

    least: Decimal | None
    most: Decimal | None
    unit: str

    def __post_init__(self) -> None:
        if self.least is None and self.most is None:
            raise ValueError("a limit needs a least or a most")

    def side(self, value: Decimal | Fraction) -> Side:
        """Where a value in the limits' own unit lies; compared exactly, the limit itself is inside."""
        exact = Fraction(value)
        if self.least is not None and exact < Fraction(self.least):
            return "below"
        if self.most is not None and exact > Fraction(self.most):
            return "above"
        return "inside"

    def side_of_length(self, length: timedelta) -> Side:
        """Where a length of time lies, for limits in s, min or h."""
        return self.side(_in_unit(length, self.unit))

    def figures(self) -> dict[str, CheckFigure]:
        """The limits that are given, as decimals, and their unit."""
        found: dict[str, CheckFigure] = {"unit": self.unit}
        if self.least is not None:
            found["least"] = plain(self.least)
        if self.most is not None:
            found["most"] = plain(self.most)
        return found

    def words(self) -> list[LimitWord]:
        """The limit in short, for the traveller and before typing."""
        if self.least is None:
            return [("limit.at_most", self.figures())]
        if self.most is None:
            return [("limit.at_least", self.figures())]
        return [("limit.exactly" if self.least == self.most else "limit.between", self.figures())]

    def low(self) -> str | None:
        """The least as the page's number field wants it."""
        return None if self.least is None else plain(self.least)

    def high(self) -> str | None:
        """The most as the page's number field wants it."""
        return None if self.most is None else plain(self.most)


def read_limits(row: CheckCells, found: Mapping[str, Any]) -> Limits | None:
    """Limits from the columns least, most and unit as they were read; None, with the errors in `row`, for none."""
    if row.is_wrong("least", "most"):
        return None
    least, most = found["least"], found["most"]
    if least is None and most is None:
        row.wrong("least", "a number here or in the column most")
        return None
    if least is not None and most is not None and most < least:
        row.wrong("most", f"{plain(least)} or more, since the least is {plain(least)}")
        return None
    return None if row.is_wrong("unit") else Limits(least, most, found["unit"])


def _in_unit(length: timedelta, unit: str) -> Fraction:
    return Fraction(length // _MICROSECOND, TIME_UNITS[unit] * 1_000_000)


def shown_length(length: timedelta, limits: Limits) -> str:
    """A length of time as a decimal, rounded so that it never shows a limit met that was missed.

    14 min 59.999 s against 15 min shows 14.99, and 15 min 0.001 s against at most 15 min shows 15.01.
    """
    given = [limit for limit in (limits.least, limits.most) if limit is not None]
    places = max([2, *(-int(limit.as_tuple().exponent) for limit in given)])
    scaled = _in_unit(length, limits.unit) * 10**places
    rounded = ceil(scaled) if limits.side_of_length(length) == "above" else floor(scaled)
    return plain(Decimal(rounded).scaleb(-places))
