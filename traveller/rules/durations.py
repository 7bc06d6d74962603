"""How long does a step take? Set-up, and time by the piece, by the shot, by the load, or fixed."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

__all__ = ["Basis", "StepTime", "continuous_dwell_seconds", "positions_needed", "step_minutes"]

Basis = Literal["piece", "shot", "load", "fixed"]


@dataclass(frozen=True, slots=True)
class StepTime:
    """How a step's time is reckoned: seconds for each piece, shot or load, or once (fixed).

    cavities: pieces a shot; load_size: pieces a load; side_by_side: stations, presses or ovens that run
    at once; setup_minutes comes once before all of it.
    """

    basis: Basis
    seconds: int
    setup_minutes: int = 0
    cavities: int = 1
    startup_shots: int = 0
    load_size: int = 1
    side_by_side: int = 1

    def __post_init__(self) -> None:
        if min(self.cavities, self.load_size, self.side_by_side) < 1:
            raise ValueError("cavities, load size and stations are at least 1")
        if min(self.seconds, self.setup_minutes, self.startup_shots) < 0:
            raise ValueError("times and start-up shots are not negative")


def _ceil_div(dividend: int, divisor: int) -> int:
    return -(-dividend // divisor)


def step_minutes(times: StepTime, pieces: int) -> int:
    """Minutes from the start of set-up to the last piece, rounded up to a whole minute; 0 for no piece.

    >>> step_minutes(StepTime("shot", seconds=45, setup_minutes=60, cavities=2), 1132)
    485
    """
    if pieces < 0:
        raise ValueError(f"pieces are not negative: {pieces}")
    if not pieces:
        return 0
    if times.basis == "piece":
        rounds = _ceil_div(pieces, times.side_by_side)
    elif times.basis == "shot":
        rounds = _ceil_div(_ceil_div(pieces, times.cavities) + times.startup_shots, times.side_by_side)
    elif times.basis == "load":
        rounds = _ceil_div(_ceil_div(pieces, times.load_size), times.side_by_side)
    else:
        rounds = 1
    return times.setup_minutes + _ceil_div(rounds * times.seconds, 60)


def continuous_dwell_seconds(positions: int, cycle_seconds: int, cavities: int) -> Fraction:
    """How long each piece stays when a fixture line is kept full: positions x cycle / cavities."""
    return Fraction(positions * cycle_seconds, cavities)


def positions_needed(dwell_seconds: int, cycle_seconds: int, cavities: int) -> int:
    """The least fixture positions that keep every piece for the dwell at this rate of shots."""
    return _ceil_div(dwell_seconds * cavities, cycle_seconds)
