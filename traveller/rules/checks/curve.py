"""Points of a rheometer curve in one cell of the workbook, from which t90 of the compound follows."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar

from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.fields import CellReader
from traveller.rules.cure import Rheometer, from_curve

__all__ = ["RheometerCurve"]

_CURVE_FAULTS: Mapping[str, str] = {
    "too_few": "three points or more",
    "not_in_order": "points in the order of their minutes",
    "no_cure": "a curve that rises by 2 units of torque or more, or it shows no cure",
}


@dataclass(frozen=True)
class RheometerCurve(CellReader[tuple[tuple[Decimal, Decimal], ...]]):
    """Points of a rheometer curve, minutes and torque: 0 6; 1 5; 2 5.4. One that had not levelled gives no t90."""

    empty: ClassVar[tuple[()]] = ()
    wanted: str = "minutes and torque, a blank between them, a semicolon behind each pair: 0 6; 1 5; 2 5.4"

    def _read(self, row: CheckCells, column: str, unit: str) -> tuple[tuple[Decimal, Decimal], ...]:
        points: list[tuple[Decimal, Decimal]] = []
        for point in filter(None, (part.strip() for part in row.text(column).split(";"))):
            numbers = [re.fullmatch(r"-?\d+(?:[.,]\d+)?", word) for word in point.split()]
            if len(numbers) != 2 or None in numbers:
                row.wrong(column, self.wanted)
                return ()
            minutes, torque = (Decimal(word.replace(",", ".")) for word in point.split())
            points.append((minutes, torque))
        found = from_curve([(float(minutes), float(torque)) for minutes, torque in points])
        if not isinstance(found, Rheometer):
            row.wrong(column, _CURVE_FAULTS[found.removeprefix("curve.")])
        elif found.still_rising:
            row.wrong(column, "a curve run until it levels: this one still rises, so its t90 would be too short")
        return tuple(points)

    def _write(self, value: tuple[tuple[Decimal, Decimal], ...]) -> str:
        return "; ".join(f"{plain(minutes)} {plain(torque)}" for minutes, torque in value)
