"""How hot is the middle? A plate heated or cooled from both faces, by conduction through its half thickness.

Formulas of conduction count from the middle to a face: L is HALF the thickness. Carslaw and Jaeger,
Conduction of Heat in Solids, chapter III (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

__all__ = ["centre_under", "roots"]

Floats: TypeAlias = NDArray[np.float64]
_MODES: Final = 60
# Steps of the middle's temperature: in each, heat travels a small part of the way to the middle.
_STEPS_PER_TIME: Final = 400
_STEPS_MOST: Final = 20_000


def roots(biot: float, count: int = _MODES) -> list[float]:
    """The first roots of x tan x = Bi, one in each half turn; an endless Biot number gives odd quarters."""
    if biot <= 0:
        raise ValueError("a Biot number is above zero")
    if math.isinf(biot):
        return [(place + 0.5) * math.pi for place in range(count)]
    found = []
    for place in range(count):
        low, high = place * math.pi, (place + 0.5) * math.pi
        for _ in range(80):
            middle = (low + high) / 2
            # x sin x - Bi cos x grows from -Bi to x in each half turn (signs alternate), and has no pole.
            grown = (middle * math.sin(middle) - biot * math.cos(middle)) * (-1) ** place
            low, high = (middle, high) if grown < 0 else (low, middle)
        found.append((low + high) / 2)
    return found


def centre_under(
    seconds: Sequence[float] | Floats,
    surface_c: Sequence[float] | Floats,
    *,
    thickness_mm: float,
    diffusivity_mm2_s: float,
    start_c: float,
) -> tuple[Floats, Floats]:
    """Times and degrees C in the middle of a slab whose two faces follow a log, straight between readings.

    The slab is at `start_c` throughout when the log begins. Exact for each of the first modes at each of
    the times returned (the log's and a fine grid between them).
    """
    if thickness_mm <= 0 or diffusivity_mm2_s <= 0:
        raise ValueError("a thickness and a diffusivity are above zero")
    times, faces = np.asarray(seconds, np.float64), np.asarray(surface_c, np.float64)
    half = thickness_mm / 2
    span = float(times[-1] - times[0])
    steps = int(min(_STEPS_MOST, max(1, math.ceil(span * diffusivity_mm2_s / half**2 * _STEPS_PER_TIME))))
    # Two temperatures at one time (a step) stay two points; the grid adds only times that are not there.
    added = np.setdiff1d(np.linspace(times[0], times[-1], steps + 1), times)
    places = np.searchsorted(times, added, "right")
    faces = np.insert(faces, places, np.interp(added, times, faces))
    times = np.insert(times, places, added)
    odd = 2 * np.arange(_MODES) + 1
    weights = 4 / (odd * math.pi) * (-1.0) ** np.arange(_MODES)
    # The series alternates: half of the last term halves what cutting it off leaves out.
    weights[-1] /= 2
    speeds = diffusivity_mm2_s * (odd * math.pi / (2 * half)) ** 2
    lag = np.full(_MODES, float(faces[0]) - start_c)
    centre = np.empty(times.size)
    centre[0] = start_c
    for row, (length, rise) in enumerate(zip(np.diff(times), np.diff(faces), strict=True), start=1):
        if length > 0:
            left = np.exp(-speeds * length)
            lag = lag * left + rise / length * (1 - left) / speeds
        else:
            lag = lag + rise
        centre[row] = faces[row] - float(weights @ lag)
    return times, centre
