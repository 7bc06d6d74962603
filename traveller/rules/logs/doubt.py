"""Can this log's unit be right? Readings far from what the step asks for, and near it in the other unit.

A logger set to Fahrenheit whose export says Celsius turns an oven of 85 C into one of 185 C, and 60 C, which is
raw, into 140 C, which looks baked. So it is asked before anything is judged by it; an answer ends the doubt.
"""

from __future__ import annotations

from collections.abc import Sequence

from traveller.rules.logs.found import Log, Unclear

__all__ = ["Band", "unit_doubt"]

# From and to, in degrees C: where the hottest reading of a log is to be expected.
Band = tuple[float, float]


def unit_doubt(log: Log, bands: Sequence[Band]) -> Unclear | None:
    """The question which unit it is, where the log's peak lies in no band as it was read and in one the other way.

    Only the peak counts: every log begins and ends in a cool room.
    """
    if log.answers.unit_sure is not None:
        return None
    peak = float(log.celsius.max())
    if any(low <= peak <= high for low, high in bands):
        return None
    as_c = log.said.unit == "C"
    number = peak if as_c else peak * 9 / 5 + 32
    other = (number - 32) * 5 / 9 if as_c else number
    if not any(low <= other <= high for low, high in bands):
        return None
    figures = {"highest": _short(number), "other": _short(other if as_c else peak)}
    return Unclear("fahrenheit", ("F", "C"), figures) if as_c else Unclear("celsius", ("C", "F"), figures)


def _short(number: float) -> str:
    return f"{number:.1f}".removesuffix(".0")
