"""Is the process steady? Control charts for shares, counts, single values and means, with run rules marked.

Constants are computed from the distributions of the range and the standard deviation, not taken from rounded
tables; limits differ from printed ones in the last digit.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal, NamedTuple

import numpy as np

__all__ = [
    "ALL_RULES",
    "ATTRIBUTE_RULES",
    "RULE_SETS",
    "Chart",
    "Constants",
    "Mark",
    "constants",
    "individuals",
    "marks_of",
    "mean_and_range",
    "p_chart",
]

_Kind = Literal["p", "individuals", "moving_range", "mean", "range"]

# By L. S. Nelson, Journal of Quality Technology, October 1984; the sentences are ours:
#   1: one point beyond three sigma     2: nine in a row on one side of the centre     3: six in a row rising or falling
#   4: fourteen in a row up and down in turn     5: two of three beyond two sigma on one side
#   6: four of five beyond one sigma on one side     7: fifteen in a row within one sigma
#   8: eight in a row beyond one sigma on either side
# 9: eight in a row on one side of the centre, in place of 2 in the older zone tests (Western Electric, Statistical
# Quality Control Handbook, 1956).
# Which rules are looked for together, by the year in which they were published.
RULE_SETS = {"1984": (1, 2, 3, 4, 5, 6, 7, 8), "1956": (1, 5, 6, 9)}
ALL_RULES = RULE_SETS["1984"]
# Zones of one and two sigma mean little where values are few and skewed.
ATTRIBUTE_RULES = (1, 2, 3, 4, 9)
# Of the largest value: what adding and dividing may be wrong by, far below what any gauge can tell.
NOISE = 1e-12


class Mark(NamedTuple):
    """A rule that is broken, at the point (from 1) that completes the pattern."""

    point: int
    rule: int


@dataclass(frozen=True)
class Chart:
    """Points with their centre, limits and sigma, and where rules are broken; limits may differ by point."""

    kind: _Kind
    values: tuple[float, ...]
    centre: float
    lower: tuple[float, ...]
    upper: tuple[float, ...]
    marks: tuple[Mark, ...]

    @property
    def beyond(self) -> tuple[int, ...]:
        """Points (from 1) outside the limits."""
        return tuple(mark.point for mark in self.marks if mark.rule == 1)


@dataclass(frozen=True)
class Constants:
    """For samples of n: mean (d2) and standard deviation (d3) of the range, for sigma 1."""

    n: int
    d2: float
    d3: float

    @property
    def a2(self) -> float:
        """Three sigma of a mean, in mean ranges."""
        return 3 / (self.d2 * math.sqrt(self.n))

    @property
    def range_factors(self) -> tuple[float, float]:
        """Lower and upper limit of the range, in mean ranges (D3, D4)."""
        return max(0.0, 1 - 3 * self.d3 / self.d2), 1 + 3 * self.d3 / self.d2


@cache
def constants(n: int) -> Constants:
    """Constants for samples of 2 to 100, by integrating the distribution of the range."""
    if not 2 <= n <= 100:
        raise ValueError("samples of 2 to 100")
    nodes, weights = np.polynomial.legendre.leggauss(120)
    widths, weights = (nodes + 1) * 7.5, weights * 7.5
    x = np.arange(-9.0, 9.0, 0.05)
    density = np.exp(-x * x / 2) / math.sqrt(2 * math.pi) * 0.05
    erf = np.vectorize(math.erf, otypes=[np.float64])
    # P(range > w): the smallest lies at x, the others within w above it.
    within = (erf((x[None, :] + widths[:, None]) / math.sqrt(2)) - erf(x / math.sqrt(2))[None, :]) / 2
    larger = 1 - n * (within ** (n - 1) * density).sum(axis=1)
    d2 = float((larger * weights).sum())
    square = float((2 * widths * larger * weights).sum())
    return Constants(n, d2, math.sqrt(square - d2 * d2))


def _last(z: Sequence[float], place: int, length: int, least: int) -> Sequence[float]:
    """The last so many up to a place; fewer at the chart's start, where `least` can already break the rule."""
    return z[max(0, place - length + 1) : place + 1] if place >= least - 1 else ()


def _trend(values: Sequence[float]) -> bool:
    pairs = list(itertools.pairwise(values))
    return all(b > a for a, b in pairs) or all(b < a for a, b in pairs)


def _sawtooth(values: Sequence[float]) -> bool:
    steps = [b - a for a, b in itertools.pairwise(values)]
    return all(a * b < 0 for a, b in itertools.pairwise(steps))


def _beyond(last: Sequence[float], wanted: int, sigma: float) -> bool:
    """So many of the last beyond sigma on one side, the newest among them."""
    return any(sign * last[-1] > sigma and sum(sign * one > sigma for one in last) >= wanted for sign in (1, -1))


def _one_side(last: Sequence[float]) -> bool:
    return all(one > 0 for one in last) or all(one < 0 for one in last)


# Rule, how many points it looks at, how many of them can break it, and what it says of them in sigma from the centre.
_TESTS: tuple[tuple[int, int, int, Callable[[Sequence[float]], bool]], ...] = (
    (2, 9, 9, _one_side),
    (5, 3, 2, lambda last: _beyond(last, 2, 2)),
    (6, 5, 4, lambda last: _beyond(last, 4, 1)),
    (7, 15, 15, lambda last: all(abs(one) < 1 for one in last)),
    (8, 8, 8, lambda last: all(abs(one) > 1 for one in last)),
    (9, 8, 8, _one_side),
)
_SHAPES: tuple[tuple[int, int, int, Callable[[Sequence[float]], bool]], ...] = (
    (3, 6, 6, _trend),
    (4, 14, 14, _sawtooth),
)


def marks_of(
    values: Sequence[float],
    centre: float,
    sigma: Sequence[float],
    lower: Sequence[float],
    upper: Sequence[float],
    rules: Sequence[int] = ALL_RULES,
) -> tuple[Mark, ...]:
    """Every rule of `rules` that is broken, at the point that completes it; a point on a limit is not beyond it.

    Two of the first two, or four of the first four, break the rules for three and for five: what came before a chart's
    start could not mend it.
    """
    # Equal values whose mean differs from them in the last bit lie on the centre, on no side of it.
    grain = NOISE * max(abs(one) for one in (centre, *values))
    steady = [round((value - centre) / grain) * grain if grain else 0.0 for value in values]
    z = [one / s if s > grain else 0.0 for one, s in zip(steady, sigma, strict=True)]
    found = []
    for place, value in enumerate(values):
        if 1 in rules and not lower[place] - grain <= value <= upper[place] + grain:
            found.append(Mark(place + 1, 1))
        for tests, numbers in ((_TESTS, z), (_SHAPES, steady)):
            for rule, length, least, broken in tests:
                last = _last(numbers, place, length, least)
                if rule in rules and last and broken(last):
                    found.append(Mark(place + 1, rule))
    return tuple(sorted(found))


def _chart(
    kind: _Kind,
    values: Sequence[float],
    centre: float,
    sigma: Sequence[float],
    rules: Sequence[int],
    floor: bool = True,
) -> Chart:
    lower = [centre - 3 * s for s in sigma]
    if floor:
        lower = [max(0.0, low) for low in lower]
    upper = [centre + 3 * s for s in sigma]
    marks = marks_of(values, centre, sigma, lower, upper, rules)
    return Chart(kind, tuple(values), centre, tuple(lower), tuple(upper), marks)


def _needs(values: Sequence[object], least: int = 2) -> None:
    if len(values) < least:
        raise ValueError(f"a chart needs at least {least} points")


def p_chart(bad: Sequence[int], sizes: Sequence[int], rules: Sequence[int] = ALL_RULES) -> Chart:
    """Shares of bad pieces in samples of these sizes; the limits of each sample are its own.

    Of `rules` those are looked for that say something of shares.
    """
    _needs(bad)
    if any(not 0 <= b <= n or n < 1 for b, n in zip(bad, sizes, strict=True)):
        raise ValueError("from none to all of at least one piece are bad")
    centre = sum(bad) / sum(sizes)
    sigma = [math.sqrt(centre * (1 - centre) / n) for n in sizes]
    own = [rule for rule in rules if rule in ATTRIBUTE_RULES]
    found = _chart("p", [b / n for b, n in zip(bad, sizes, strict=True)], centre, sigma, own)
    # More than all cannot be bad: the limit stops there too.
    return Chart("p", found.values, centre, found.lower, tuple(min(1.0, u) for u in found.upper), found.marks)


def individuals(values: Sequence[float], rules: Sequence[int] = ALL_RULES) -> tuple[Chart, Chart]:
    """Single values, and the moving ranges between neighbours (sigma = mean range / d2 of two)."""
    _needs(values)
    moving = [abs(b - a) for a, b in itertools.pairwise(values)]
    mean_range = sum(moving) / len(moving)
    own = constants(2)
    sigma = mean_range / own.d2
    single = _chart("individuals", values, sum(values) / len(values), [sigma] * len(values), rules, floor=False)
    return single, _spread_chart("moving_range", moving, mean_range, own.range_factors)


def _spread_chart(kind: _Kind, values: Sequence[float], mean: float, factors: tuple[float, float]) -> Chart:
    """Ranges lie skew: only points beyond the limits are marked."""
    lower, upper = [factors[0] * mean] * len(values), [factors[1] * mean] * len(values)
    marks = marks_of(values, mean, [1.0] * len(values), lower, upper, (1,))
    return Chart(kind, tuple(values), mean, tuple(lower), tuple(upper), marks)


def _samples(samples: Sequence[Sequence[float]]) -> tuple[int, list[float]]:
    _needs(samples)
    sizes = {len(sample) for sample in samples}
    if len(sizes) != 1:
        raise ValueError("samples of one size")
    return sizes.pop(), [sum(sample) / len(sample) for sample in samples]


def mean_and_range(samples: Sequence[Sequence[float]], rules: Sequence[int] = ALL_RULES) -> tuple[Chart, Chart]:
    """Means of samples of one size, and their ranges."""
    size, means = _samples(samples)
    own = constants(size)
    ranges = [max(sample) - min(sample) for sample in samples]
    mean_range = sum(ranges) / len(ranges)
    sigma = own.a2 * mean_range / 3
    first = _chart("mean", means, sum(means) / len(means), [sigma] * len(means), rules, floor=False)
    return first, _spread_chart("range", ranges, mean_range, own.range_factors)
