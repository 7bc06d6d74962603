"""A plate between two faces of one temperature, by the textbook's series: what the middle of a log is held against."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from traveller.rules.slab import Body, heated_through, roots


def plate_share(biot: float, fourier: float, place: float = 0.0) -> float:
    """What is left of the first difference to the surroundings: (T - around) / (T at first - around).

    `fourier` is diffusivity x time / L squared and `biot` is h L / k, both with L = half thickness;
    `place` from 0 (middle) to 1 (face).
    """
    if fourier <= 0:
        return 1.0
    total = 0.0
    for root in roots(biot):
        weight = 4 * math.sin(root) / (2 * root + math.sin(2 * root))
        total += weight * math.exp(-root * root * fourier) * math.cos(root * place)
    return total


def centre_under(
    seconds: Sequence[float],
    surface_c: Sequence[float],
    *,
    thickness_mm: float,
    diffusivity_mm2_s: float,
    start_c: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Times and degrees C in the middle of a plate whose two faces follow a log."""
    times, centre, _ = heated_through(Body(thickness_mm, diffusivity_mm2_s), seconds, surface_c, start_c=start_c)
    return times, centre
