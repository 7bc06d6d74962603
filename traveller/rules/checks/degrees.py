"""Temperatures, lengths of time and amounts with their unit in one cell: 75-88 C, 2 min, 8 h at 25 C."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import timedelta
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from fractions import Fraction

from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.limits import TIME_UNITS, Limits
from traveller.rules.units import celsius

__all__ = ["DEGREES_WANTED", "Length", "as_celsius", "degrees", "degrees_shown", "dump_degrees", "length"]

DEGREES_WANTED = "a range with its unit: 75-88 C, or 120 C for at least 120 C, or 167-190 F"
_NUMBER = r"(-?\d{1,4}(?:[.,]\d{1,2})?)"
_RANGE = re.compile(rf"{_NUMBER}\s*(?:(?:-|–|to|\.\.)\s*{_NUMBER})?\s*°?\s*([CcFf])")
_LENGTH = re.compile(r"(\d{1,6}(?:[.,]\d{1,2})?)\s*(s|min|h)", re.IGNORECASE)


def degrees(row: CheckCells, column: str, wanted: str = DEGREES_WANTED) -> Limits | None:
    """At least, or from and to, with C or F behind; None when the cell is empty or wrong."""
    found = row.text(column)
    match = _RANGE.fullmatch(found)
    if not match:
        if found:
            row.wrong(column, wanted)
        return None
    least = Decimal(match[1].replace(",", "."))
    most = Decimal(match[2].replace(",", ".")) if match[2] else None
    if most is not None and most < least:
        row.wrong(column, wanted)
        return None
    return Limits(least, most, match[3].upper())


def dump_degrees(limits: Limits | None) -> str:
    """The cell again."""
    if limits is None:
        return ""
    ends = [end for end in (limits.low(), limits.high()) if end is not None]
    return f"{'-'.join(ends)} {limits.unit}"


def as_celsius(number: Decimal, unit: str) -> float:
    """Degrees C for the arithmetic of logs; compared with a hair's tolerance, see rules.soak."""
    return float(celsius(number)) if unit == "F" else float(number)


@dataclass(frozen=True)
class Length:
    """A length of time with the unit in which it was written."""

    amount: Decimal
    unit: str

    @property
    def seconds(self) -> Fraction:
        """In seconds, exact."""
        return Fraction(self.amount) * TIME_UNITS[self.unit]

    @property
    def delta(self) -> timedelta:
        """As Python's length of time, to the microsecond."""
        return timedelta(microseconds=int(self.seconds * 1_000_000))

    def words(self) -> str:
        """The cell again."""
        return f"{plain(self.amount)} {self.unit}"


def length(row: CheckCells, column: str, wanted: str = "a time with its unit: 90 s, 2 min, 1.5 h") -> Length | None:
    """A length of time with its unit; None when the cell is empty or wrong."""
    found = row.text(column)
    match = _LENGTH.fullmatch(found)
    if not match:
        if found:
            row.wrong(column, wanted)
        return None
    return Length(Decimal(match[1].replace(",", ".")), match[2].lower())


def degrees_shown(value: float, places: int = 2, *, up: bool = False) -> str:
    """A figure as a decimal, rounded down (or up) so that it never shows a limit met that was missed.

    What is within a millionth of the next step is taken as that step: binary fractions fall a hair short.
    """
    step = Decimal(1).scaleb(-places)
    exact = Decimal(repr(value))
    near = exact.quantize(step)
    if abs(exact - near) <= Decimal("1e-6"):
        return plain(near)
    return plain(exact.quantize(step, ROUND_CEILING if up else ROUND_FLOOR))
