"""Does the process fit between the limits? Cp and Cpk with their intervals, once there are enough pieces."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist, fmean, stdev
from typing import Final

__all__ = ["ENOUGH", "Capability", "capability", "chi_square_quantile", "from_figures", "ppm_outside"]

# Below this a figure says more about chance than about the process, and counts are shown instead (common practice, no
# source).
ENOUGH: Final = 20


@dataclass(frozen=True)
class Capability:
    """Cp and Cpk with the ends of their two-sided interval; Cp is None where only one limit is given.

    `k` is how far the mean lies off the middle, in half widths.
    """

    n: int
    mean: float
    s: float
    cp: float | None
    cp_interval: tuple[float, float] | None
    cpk: float
    cpk_interval: tuple[float, float]
    k: float | None
    ppm: float


def capability(
    values: Sequence[float], low: float | None, high: float | None, *, confidence: float = 0.95
) -> Capability | None:
    """From measured pieces; None while there are fewer than ENOUGH, or where all are equal."""
    if len(values) < ENOUGH:
        return None
    s = stdev(values)
    return from_figures(len(values), fmean(values), s, low, high, confidence=confidence) if s > 0 else None


def from_figures(
    n: int, mean: float, s: float, low: float | None, high: float | None, *, confidence: float = 0.95
) -> Capability:
    """From the figures of a sample. Cp's interval by chi-square, both tails; Cpk's by Bissell's approximation.

    Montgomery, Introduction to Statistical Quality Control (formulas from memory).
    """
    if (low is None and high is None) or s <= 0 or n < 2:
        raise ValueError("a limit, a spread above zero and two pieces are needed")
    if low is not None and high is not None and high <= low:
        raise ValueError("the upper limit lies above the lower")
    upper = None if high is None else (high - mean) / (3 * s)
    lower = None if low is None else (mean - low) / (3 * s)
    cpk = min(one for one in (upper, lower) if one is not None)
    cp: float | None = None
    cp_interval: tuple[float, float] | None = None
    off: float | None = None
    if low is not None and high is not None:
        cp = (high - low) / (6 * s)
        off = abs((high + low) / 2 - mean) / ((high - low) / 2)
        # Both tails: with one tail for a two-sided interval it comes out too narrow.
        tail = (1 - confidence) / 2
        ends = [math.sqrt(chi_square_quantile(share, n - 1) / (n - 1)) for share in (tail, 1 - tail)]
        cp_interval = (cp * ends[0], cp * ends[1])
    z = NormalDist().inv_cdf(1 - (1 - confidence) / 2)
    wide = z * math.sqrt(1 / (9 * n) + cpk * cpk / (2 * (n - 1)))
    ppm = ppm_outside(mean, s, low, high)
    return Capability(n, mean, s, cp, cp_interval, cpk, (cpk - wide, cpk + wide), off, ppm)


def ppm_outside(mean: float, s: float, low: float | None, high: float | None) -> float:
    """Pieces in a million outside the limits if they are spread normally, which a few pieces cannot show."""
    below = 0.0 if low is None else math.erfc((mean - low) / s / math.sqrt(2)) / 2
    above = 0.0 if high is None else math.erfc((high - mean) / s / math.sqrt(2)) / 2
    return (below + above) * 1e6


def chi_square_quantile(share: float, freedom: int) -> float:
    """The value below which this share of a chi-square distribution lies."""
    if not 0 < share < 1 or freedom < 1:
        raise ValueError("a share between 0 and 1, at least one degree of freedom")
    low, high = 0.0, float(freedom)
    while _gamma_share(freedom / 2, high / 2) < share:
        high *= 2
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if _gamma_share(freedom / 2, middle / 2) < share else (low, middle)
    return (low + high) / 2


def _gamma_share(a: float, x: float) -> float:
    """The regularised lower incomplete gamma function P(a, x), by its series (all terms positive)."""
    if x <= 0:
        return 0.0
    term = total = 1 / a
    n = a
    while term > total * 1e-17:
        n += 1
        term *= x / n
        total += term
    return min(1.0, total * math.exp(a * math.log(x) - x - math.lgamma(a)))
