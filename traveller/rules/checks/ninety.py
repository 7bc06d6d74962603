"""What is asked of a cure in equivalent minutes: by the figure of the row, or in times of the t90 of the mix."""

from __future__ import annotations

from dataclasses import dataclass

from traveller.rules.checks.base import CheckFigure, Evidence, LoadEvidence
from traveller.rules.checks.degrees import degrees_shown
from traveller.rules.checks.limits import TIME_UNITS, Limits

__all__ = ["T90", "MinutesAsked", "minutes_asked", "t90_of"]

# A reading of this name, from the rheometer strip of the mix that was used, goes before the workbook's figure.
T90 = "t90"


def t90_of(known: float | None, evidence: Evidence, load: LoadEvidence) -> float | None:
    """t90 in minutes: the longest that was read for this load's mix, else what the row knows; None: unknown.

    Of several mixes in one load the slowest has to be cured.
    """
    own = [
        float(reading.number) * TIME_UNITS.get(reading.unit or "min", 0) / 60
        for reading in evidence.named(T90)
        if reading.number is not None and reading.load in (None, load.number)
    ]
    read = [minutes for minutes in own if minutes > 0]
    return max(read) if read else known


@dataclass(frozen=True)
class MinutesAsked:
    """The limits in equivalent minutes; None: nobody knows t90, or there is no such limit."""

    t90: float | None
    least: float | None
    most: float | None

    def figures(self) -> dict[str, CheckFigure]:
        """As they are said; nothing where t90 is not known."""
        if self.least is None:
            return {"t_ninety": "?"}
        return {
            "t_ninety": "?" if self.t90 is None else degrees_shown(self.t90),
            "least_minutes": degrees_shown(self.least, up=True),
            "most_minutes": "" if self.most is None else degrees_shown(self.most),
        }


def minutes_asked(limits: Limits, t90: float | None) -> MinutesAsked:
    """The limits of a row in minutes, where they are in times of t90 by this one."""
    scale = t90 if limits.unit == "t90" else 1.0
    if scale is None:
        return MinutesAsked(t90, None, None)
    return MinutesAsked(
        t90, float(limits.least or 0) * scale, None if limits.most is None else float(limits.most) * scale
    )
