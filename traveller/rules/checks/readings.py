"""Are all readings inside? The part that every kind of check with measured values shares."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from traveller.rules.checks.base import CheckFigure, CheckVerdict, ReadingEvidence
from traveller.rules.checks.columns import plain
from traveller.rules.checks.limits import Limits, in_unit

__all__ = ["NAME_MOST", "judge_values", "where"]

# What a reading keeps of its name.
NAME_MOST = 40


def where(reading: ReadingEvidence) -> dict[str, CheckFigure]:
    """Where a reading was taken, as far as it says so."""
    places = {"load": reading.load, "cavity": reading.cavity, "piece": reading.piece}
    return {name: number for name, number in places.items() if number is not None}


def judge_values(prefix: str, limits: Limits, readings: Iterable[ReadingEvidence]) -> CheckVerdict | None:
    """The worst reading that is outside, else the first that cannot be read; None when all are inside.

    Codes are `prefix` with below, above, unit or not_a_number; the figures carry the value as it was read.
    """
    outside: list[tuple[Fraction, CheckVerdict]] = []
    unread: CheckVerdict | None = None
    for reading in readings:
        figures: dict[str, CheckFigure] = {
            **limits.figures(),
            **where(reading),
            "value_unit": reading.unit or limits.unit,
        }
        number = reading.number
        if number is None:
            figures["value"] = reading.text.strip() or str(reading.value)
            unread = unread or CheckVerdict("missing", f"{prefix}.not_a_number", figures)
            continue
        figures["value"] = plain(number)
        value = in_unit(number, reading.unit, limits.unit)
        if value is None:
            unread = unread or CheckVerdict("missing", f"{prefix}.unit", figures)
            continue
        side = limits.side(value)
        if side == "below" and limits.least is not None:
            outside.append((Fraction(limits.least) - value, CheckVerdict("failed", f"{prefix}.below", figures)))
        elif side == "above" and limits.most is not None:
            outside.append((value - Fraction(limits.most), CheckVerdict("failed", f"{prefix}.above", figures)))
    if outside:
        return max(outside, key=lambda pair: pair[0])[1]
    return unread
