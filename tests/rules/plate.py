"""A plate between two faces of one temperature, by the textbook's series: what the middle of a log is held against."""

from __future__ import annotations

import math

from traveller.rules.slab import roots


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
