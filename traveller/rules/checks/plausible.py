"""Can the gauge show this at all? What lies outside is asked about before it is taken as news, never mended.

350 typed for an oven that reaches 260 C is most likely Fahrenheit. Only a question: what is typed again is news, and
judged against the limits as it stands.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from traveller.rules.checks.base import CheckFigure, LimitWord, Question
from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.fields import CellReader
from traveller.rules.checks.limits import in_unit

__all__ = ["PLAUSIBLE_WORDS", "FromTo", "hint"]

_DEGREES = {"c": "C", "°c": "C", "f": "F", "°f": "F"}
_NUMBER = r"(-?\d{1,6}(?:[.,]\d{1,2})?)"
_FROM_TO = re.compile(rf"{_NUMBER}\s*(?:-|–|to|\.\.)\s*{_NUMBER}")

PLAUSIBLE_WORDS: Mapping[str, str] = {
    "plausible.fahrenheit_meant": "{value} °C is outside what this can show ({lowest} to {highest} {unit}): "
    "did you mean Fahrenheit?",
    "plausible.celsius_meant": "{value} °F is outside what this can show ({lowest} to {highest} {unit}): "
    "did you mean Celsius?",
    "plausible.outside": "{value} {value_unit} is outside what this can show ({lowest} to {highest} {unit}): "
    "is it right?",
}


@dataclass(frozen=True)
class FromTo(CellReader[tuple[Decimal, Decimal]]):
    """From and to in one cell: 20-260."""

    wanted: str = "from and to in the reading's own unit: 20-260"

    def _read(self, row: CheckCells, column: str, unit: str) -> tuple[Decimal, Decimal] | None:
        match = _FROM_TO.fullmatch(row.text(column))
        ends = [Decimal(end.replace(",", ".")) for end in match.groups()] if match else []
        if not ends or ends[0] >= ends[1]:
            row.wrong(column, self.wanted)
            return None
        return ends[0], ends[1]

    def _write(self, value: tuple[Decimal, Decimal]) -> str:
        return f"{plain(value[0])}-{plain(value[1])}"


def hint(question: Question, value: Decimal, unit: str = "") -> LimitWord | None:
    """The question to put before such a value is taken, as a code with figures; None when the gauge can show it."""
    if question.plausible is None or not value.is_finite():
        return None
    low, high = map(Fraction, question.plausible)
    exact = in_unit(value, unit, question.unit)
    if exact is None or low <= exact <= high:
        return None
    typed = unit.strip() or question.unit
    figures: dict[str, CheckFigure] = {
        "value": plain(value),
        "value_unit": typed,
        "lowest": plain(question.plausible[0]),
        "highest": plain(question.plausible[1]),
        "unit": question.unit,
    }
    own = _DEGREES.get(typed.casefold())
    other = None if own is None else in_unit(value, "F" if own == "C" else "C", question.unit)
    if other is None or not low <= other <= high:
        return "plausible.outside", figures
    return ("plausible.fahrenheit_meant" if own == "C" else "plausible.celsius_meant"), figures
