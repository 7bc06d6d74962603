"""Is it cured? Equivalent minutes at a reference temperature, t90 of a rheometer curve.

Minutes at a temperature count as many at the reference as the reaction is faster there, by an activation
energy (Arrhenius) or by degrees per doubling (about 10 degrees C for many rubbers; the compound decides).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Protocol, TypeAlias

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "GAS_CONSTANT",
    "KELVIN",
    "Arrhenius",
    "Doubling",
    "Rate",
    "Rheometer",
    "equivalent_minutes",
    "from_curve",
]

Floats: TypeAlias = NDArray[np.float64]

GAS_CONSTANT: Final = 8.314462618  # J/(mol K), exact since 2019 (from memory)
KELVIN: Final = 273.15
# Eight-point Gauss-Legendre is exact to better than a part in 1e9 while the rate grows e^4-fold in a piece.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(8)
_STEEPEST = 4.0


class Rate(Protocol):
    """How fast a reaction runs: the logarithm of its rate against the reference temperature."""

    def exponent(self, celsius: Floats) -> Floats:
        """The logarithm of the rate at each temperature in degrees C, as an array of the same shape."""
        ...


@dataclass(frozen=True)
class Arrhenius:
    """By activation energy in J/mol, 1 at the reference temperature in degrees C."""

    joule_per_mol: float
    reference_c: float

    def __post_init__(self) -> None:
        if self.joule_per_mol <= 0 or self.reference_c <= -KELVIN:
            raise ValueError("an activation energy is above zero, a temperature above absolute zero")

    def exponent(self, celsius: Floats) -> Floats:
        """The logarithm of the rate."""
        inverse = 1.0 / (self.reference_c + KELVIN) - 1.0 / (celsius + KELVIN)
        return self.joule_per_mol / GAS_CONSTANT * inverse


@dataclass(frozen=True)
class Doubling:
    """Twice as fast for so many degrees C more, 1 at the reference temperature in degrees C."""

    degrees: float
    reference_c: float

    def __post_init__(self) -> None:
        if self.degrees <= 0:
            raise ValueError("degrees per doubling are above zero")

    def exponent(self, celsius: Floats) -> Floats:
        """The logarithm of the rate."""
        return (celsius - self.reference_c) * (math.log(2) / self.degrees)


def equivalent_minutes(seconds: Floats, celsius: Floats, rate: Rate, live: NDArray[np.bool_] | None = None) -> float:
    """Minutes at the reference temperature worth the same, the temperature a straight line between readings.

    `live` says which pieces count; by default all. Additive over pieces; finer sampling of a straight
    piece changes nothing but the last digits.
    """
    lengths = np.diff(seconds)
    from_c, to_c = celsius[:-1], celsius[1:]
    if live is not None:
        lengths, from_c, to_c = lengths[live], from_c[live], to_c[live]
    if not lengths.size:
        return 0.0
    steepness = np.abs(rate.exponent(to_c) - rate.exponent(from_c))
    parts = np.maximum(1, np.ceil(steepness / _STEEPEST)).astype(np.int64)
    if (parts > 1).any():
        lengths, from_c, to_c = _parted(lengths, from_c, to_c, parts)
    middle, half = (from_c + to_c) / 2, (to_c - from_c) / 2
    total = np.zeros(lengths.size)
    for node, weight in zip(_NODES, _WEIGHTS, strict=True):
        total += weight * np.exp(rate.exponent(middle + half * node))
    return float((total * lengths).sum()) / 2 / 60


def _parted(lengths: Floats, from_c: Floats, to_c: Floats, parts: NDArray[np.int64]) -> tuple[Floats, Floats, Floats]:
    """Pieces over which the rate changes too much, cut into equal parts."""
    whole = np.repeat(np.arange(parts.size), parts)
    place = np.arange(whole.size) - np.repeat(np.cumsum(parts) - parts, parts)
    rise = (to_c - from_c)[whole] / parts[whole]
    start = from_c[whole] + rise * place
    return lengths[whole] / parts[whole], start, start + rise


@dataclass(frozen=True)
class Rheometer:
    """What a cure curve says: minutes to 90 % cure.

    `still_rising`: the last point is the highest and the curve had not levelled, so t90 is too short.
    """

    t90_min: float
    still_rising: bool = False


_RISE_LEAST = 2.0
# A curve that would climb another tenth of its height in the time of t90 had not levelled.
_LEVEL = 0.1


def from_curve(points: Sequence[tuple[float, float]]) -> Rheometer | str:
    """t90 from (minutes, torque) points, straight lines between; a code where the curve proves none."""
    if len(points) < 3:
        return "curve.too_few"
    minutes, torque = [float(m) for m, _ in points], [float(t) for _, t in points]
    if any(later <= earlier for earlier, later in pairwise(minutes)):
        return "curve.not_in_order"
    # The highest torque is sought behind the lowest: a cold sample is stiff at first.
    low = torque.index(min(torque))
    high = max(range(low, len(torque)), key=lambda place: (torque[place], -place))
    least, most = torque[low], torque[high]
    if most - least < _RISE_LEAST:
        return "curve.no_cure"
    t90 = _crossing(minutes[low:], torque[low:], least + 0.9 * (most - least))
    slope = (most - torque[-2]) / (minutes[-1] - minutes[-2])
    rising = high == len(torque) - 1 and slope * t90 > _LEVEL * (most - least)
    return Rheometer(t90, rising)


def _crossing(minutes: Sequence[float], torque: Sequence[float], wanted: float) -> float:
    for place in range(1, len(torque)):
        if torque[place] >= wanted:
            share = (wanted - torque[place - 1]) / (torque[place] - torque[place - 1])
            return minutes[place - 1] + share * (minutes[place] - minutes[place - 1])
    return minutes[-1]
