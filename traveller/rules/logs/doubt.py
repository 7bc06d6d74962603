"""Can this log's unit be right? Readings far from what the step asks for, and near it in the other unit.

A logger set to Fahrenheit whose export says Celsius turns an oven of 85 C into one of 185 C, and 60 C, which is
raw, into 140 C, which looks baked. So it is asked before anything is judged by it; an answer ends the doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import get_args

from traveller.rules.logs.found import Log, NotALog, Probe, Unclear
from traveller.rules.logs.values import ZERO_C_K

__all__ = ["Band", "oven_doubt", "probe_doubt", "unit_doubt"]

# From and to, in degrees C: where the hottest reading of a log is to be expected.
Band = tuple[float, float]


def unit_doubt(log: Log, bands: Sequence[Band]) -> Unclear | None:
    """The question which unit it is, where the log's peak lies in no band as it was read and in one the other way.

    Only the peak counts: every log begins and ends in a cool room.
    """
    if log.answers.unit_sure is not None or log.said.unit == "K":
        return None
    peak = float(log.celsius.max())
    if any(low <= peak <= high for low, high in bands):
        return None
    as_c = log.said.unit == "C"
    number = peak if as_c else peak * 9 / 5 + 32
    other = (number - 32) * 5 / 9 if as_c else number
    if not any(low <= other <= high for low, high in bands):
        kelvin = number - ZERO_C_K
        if not any(low <= kelvin <= high for low, high in bands):
            return None
        return Unclear("kelvin", ("K", log.said.unit), {"highest": _short(number), "other": _short(kelvin)})
    figures = {"highest": _short(number), "other": _short(other if as_c else peak)}
    return Unclear("fahrenheit", ("F", "C"), figures) if as_c else Unclear("celsius", ("C", "F"), figures)


def probe_doubt(log: Log, *, asked: bool) -> Unclear | None:
    """The question where the probe was, where a check hangs on it and nobody has said."""
    if not asked or log.answers.probe is not None:
        return None
    return Unclear("probe", get_args(Probe))


def oven_doubt(log: Log, place: str, own: str) -> Unclear | NotALog | None:
    """A log that names another place (`place`) than the one that its load was in: asked about, and then believed."""
    if not place or log.answers.oven == "same":
        return None
    figures = {"place": place, "own": own}
    return NotALog("log.another_oven", figures) if log.answers.oven else Unclear("oven", ("same", "other"), figures)


def _short(number: float) -> str:
    return f"{number:.1f}".removesuffix(".0")
