"""How hot is the middle, and the surface? A plate or a round bar heated or cooled from its faces, by conduction inside.

Formulas of conduction count from the middle to a face: L is HALF the thickness, or the radius. At the face either its
own temperature is known (held: an endless Biot number), or that of the air round it and how well the air carries heat
to it (Biot = h L / k). Carslaw and Jaeger, Conduction of Heat in Solids, chapters III and VII (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

__all__ = ["Body", "Shape", "heated_through", "roots"]

Floats: TypeAlias = NDArray[np.float64]
Shape = Literal["plate", "cylinder"]
_MODES: Final = 60
# Steps of the middle's temperature: in each, heat travels a small part of the way to the middle.
_STEPS_PER_TIME: Final = 400
_STEPS_MOST: Final = 4_000
# Bessel functions as means over a circle: exact to the last digits for arguments well below the number of points.
_CIRCLE: Final = np.linspace(0, 2 * math.pi, 512, endpoint=False)


@dataclass(frozen=True)
class Body:
    """A plate of this thickness, or a round bar of this diameter, in mm, with its diffusivity in mm2/s.

    `biot` is heat transfer x half thickness / conductivity; endless where the face itself is held at a temperature.
    """

    thickness_mm: float
    diffusivity_mm2_s: float
    biot: float = math.inf
    shape: Shape = "plate"

    def __post_init__(self) -> None:
        if self.thickness_mm <= 0 or self.diffusivity_mm2_s <= 0 or self.biot <= 0:
            raise ValueError("a thickness, a diffusivity and a Biot number are above zero")

    @property
    def half_mm(self) -> float:
        """From the middle to a face."""
        return self.thickness_mm / 2


def roots(biot: float, count: int = _MODES, shape: Shape = "plate") -> list[float]:
    """The first roots of x tan x = Bi, or of x J1(x) = Bi J0(x) for a round bar; endless: of cos x = 0, of J0(x) = 0.

    Each lies in an interval of its own, in which the function changes its sign once and has no pole.
    """
    if biot <= 0:
        raise ValueError("a Biot number is above zero")
    if math.isinf(biot) and shape == "plate":
        return [(place + 0.5) * math.pi for place in range(count)]
    return list(_found(biot, count, shape))


@lru_cache(maxsize=256)
def _found(biot: float, count: int, shape: Shape) -> tuple[float, ...]:
    place = np.arange(count, dtype=np.float64)
    if shape == "plate":
        low, high = place * math.pi, (place + 0.5) * math.pi
    else:
        # J0 changes its sign once between place pi and (place + 1) pi; J1 only between those roots.
        low, high = place * math.pi, (place + 1) * math.pi
        if not math.isinf(biot):
            of_j1 = _bisected(_bessel_1, low[1:], high[1:] + 0.5)
            low, high = np.concatenate((np.zeros(1), of_j1)), _zeros_of_j0(count)
    return tuple(_bisected(lambda x: _condition(x, biot, shape), low, high).tolist())


def _condition(x: Floats, biot: float, shape: Shape) -> Floats:
    """What is zero at a root."""
    if shape == "plate":
        return x * np.sin(x) - biot * np.cos(x)
    return _bessel_0(x) if math.isinf(biot) else x * _bessel_1(x) - biot * _bessel_0(x)


@lru_cache(maxsize=8)
def _zeros_of_j0(count: int) -> Floats:
    place = np.arange(count, dtype=np.float64)
    return _bisected(_bessel_0, place * math.pi, (place + 1) * math.pi)


def _bisected(function: Callable[[Floats], Floats], low: Floats, high: Floats) -> Floats:
    """The root between each pair of ends, where the signs differ."""
    below = np.sign(function(low + 1e-12))
    for _ in range(60):
        middle = (low + high) / 2
        same = np.sign(function(middle)) == below
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    return (low + high) / 2


def _bessel_0(x: Floats) -> Floats:
    found: Floats = np.cos(np.multiply.outer(x, np.sin(_CIRCLE))).mean(axis=-1)
    return found


def _bessel_1(x: Floats) -> Floats:
    found: Floats = np.cos(_CIRCLE - np.multiply.outer(x, np.sin(_CIRCLE))).mean(axis=-1)
    return found


@lru_cache(maxsize=64)
def _modes(biot: float, shape: Shape) -> tuple[Floats, Floats, Floats]:
    """Roots, and what each mode weighs in the middle and at the face."""
    found = np.array(roots(biot, _MODES, shape))
    if shape == "plate":
        strength = 4 * np.sin(found) / (2 * found + np.sin(2 * found))
        middle, face = strength, strength * np.cos(found)
    else:
        zero, one = _bessel_0(found), _bessel_1(found)
        strength = 2 / found * one / (zero**2 + one**2)
        middle, face = strength, strength * zero
    middle, face = middle.copy(), face.copy()
    # All modes together are the whole first difference; the last one stands for those that are cut off.
    middle[-1] += 1 - middle.sum()
    face[-1] = face[-1] if math.isinf(biot) else face[-1] + 1 - face.sum()
    return found, middle, face


def heated_through(
    body: Body,
    seconds: Sequence[float] | Floats,
    around_c: Sequence[float] | Floats,
    *,
    start_c: float,
    fine: bool = True,
) -> tuple[Floats, Floats, Floats]:
    """Times, degrees C in the middle and degrees C at the face, of a body in surroundings that follow a log.

    Between readings the log is a straight line; the body is at `start_c` throughout when it begins. Exact for each of
    the first modes at each of the times returned: the log's, and where `fine` a grid between them. With an endless
    Biot number the surroundings are the face.
    """
    times, around = np.asarray(seconds, np.float64), np.asarray(around_c, np.float64)
    if fine:
        times, around = _refined(body, times, around)
    found, weights, at_face = _modes(body.biot, body.shape)
    speeds = body.diffusivity_mm2_s * (found / body.half_mm) ** 2
    lag = np.full(found.size, float(around[0]) - start_c)
    centre, face = np.empty(times.size), np.empty(times.size)
    centre[0] = start_c
    face[0] = around[0] if math.isinf(body.biot) else start_c
    for row, (length, rise) in enumerate(zip(np.diff(times), np.diff(around), strict=True), start=1):
        if length > 0:
            left = np.exp(-speeds * length)
            lag = lag * left + rise / length * (1 - left) / speeds
        else:
            lag = lag + rise
        centre[row] = around[row] - float(weights @ lag)
        face[row] = around[row] - float(at_face @ lag)
    return times, centre, around.copy() if math.isinf(body.biot) else face


def _refined(body: Body, times: Floats, around: Floats) -> tuple[Floats, Floats]:
    """The log with a fine grid between its readings."""
    span = float(times[-1] - times[0])
    wanted = span * body.diffusivity_mm2_s / body.half_mm**2 * _STEPS_PER_TIME
    steps = int(min(_STEPS_MOST, max(1, math.ceil(wanted))))
    # Two temperatures at one time (a step) stay two points; the grid adds only times that are not there.
    added = np.setdiff1d(np.linspace(times[0], times[-1], steps + 1), times)
    places = np.searchsorted(times, added, "right")
    return np.insert(times, places, added), np.insert(around, places, np.interp(added, times, around))
