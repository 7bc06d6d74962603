"""Do two counts agree? What a counting method can resolve, and which figure is booked on arrival.

A count by weight is a quotient of weights, and as good as they are: the scale shows steps, so each weight may be off by
up to half of one (evenly: step / sqrt(12) is its standard deviation); the weight of one piece was set from a few, and
pieces differ. How much they differ is learned from counts of the same goods by hand (`learned`), else assumed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final, Literal, get_args

__all__ = [
    "ASSUMED_CV_PPM",
    "COARSE_PPM",
    "METHODS",
    "PAIRS_ENOUGH",
    "Comparison",
    "CountHow",
    "Method",
    "PieceSpread",
    "by_weight",
    "cannot_tell",
    "compare_counts",
    "enough_sample",
    "learned",
    "spread",
    "spread_sd",
]

Method = Literal["hand", "weight", "shots"]
METHODS: Final[tuple[Method, ...]] = get_args(Method)
_PPM = 1_000_000
# "Weigh at least 10 pieces to set the piece weight": taken where nobody noted how many were weighed.
_LEAST_SAMPLE = 10
# One standard deviation of the weight of a moulded piece, until the shop's own counts say better: piece weights of 0.5
# to 1.5 % are common, plastics more (common practice, no source).
ASSUMED_CV_PPM: Final = 10_000
# A count that may be off by more than this share of itself is no count (common practice, no source).
COARSE_PPM: Final = 20_000
# Fewer goods that were counted and weighed say little of how pieces differ (no source).
PAIRS_ENOUGH: Final = 8
# Off by more standard deviations than this, goods were lost, not weighed badly (no source): no word of the pieces.
_OUTLIER = 4
# Half of all squares of a standard normal value lie below this (0.6745 squared).
_MEDIAN_OF_SQUARE = Fraction(455, 1000)
# A shot counter sees the press open, not a piece fall: with equal spread a count by hand is the finer.
_ROUGHNESS: Final[dict[Method, int]] = {"hand": 0, "shots": 1, "weight": 2}


@dataclass(frozen=True, slots=True)
class CountHow:
    """A counted quantity and how it was counted.

    For a count by weight: sample = pieces weighed to set the piece weight (0 = not noted, taken as 10),
    cv_ppm = spread of a piece's weight, one standard deviation in ppm of it (10,000 = 1 %); the weight of one piece in
    steps of the scale that weighed the sample and of the one that weighed the goods (0 = not known: then a weight
    counts as exact), and how many weights were read for the goods, empty totes among them.
    """

    quantity: int
    method: Method
    sample: int = 0
    cv_ppm: int = ASSUMED_CV_PPM
    sample_steps: Fraction = Fraction(0)
    steps: Fraction = Fraction(0)
    readings: int = 1

    def __post_init__(self) -> None:
        if min(self.quantity, self.sample, self.cv_ppm, self.readings) < 0 or min(self.sample_steps, self.steps) < 0:
            raise ValueError("a count, its sample and its spread are not negative")


@dataclass(frozen=True, slots=True)
class PieceSpread:
    """How much the weight of a piece varies, one standard deviation in ppm of it; from so many goods that were both
    weighed and counted by hand, 0: assumed."""

    cv_ppm: int = ASSUMED_CV_PPM
    pairs: int = 0


@dataclass(frozen=True, slots=True)
class Comparison:
    """Sent against received: difference = received - sent; resolves = the widest difference still inside."""

    inside: bool
    booked: int
    difference: int
    resolves: int
    finer: Literal["sent", "received"]


def _of_pieces(count: CountHow) -> Fraction:
    """What the pieces' own differences do to a count by weight: its variance for a coefficient of variation of 1."""
    sample = count.sample or _LEAST_SAMPLE
    return count.quantity**2 * Fraction(1, sample) + count.quantity


def _of_scale(count: CountHow) -> Fraction:
    """What the scale's steps do to it: the weight of the sample, which every piece is reckoned with, and of the goods.

    A weight between two steps is off by up to half of one, evenly: 1/12 of a square step.
    """
    found = Fraction(0)
    if count.sample_steps:
        found += count.quantity**2 / (12 * (count.sample_steps * (count.sample or _LEAST_SAMPLE)) ** 2)
    if count.steps:
        found += count.readings / (12 * count.steps**2)
    return found


def _variance(count: CountHow) -> Fraction:
    """Square of the spread in pieces, exact; 0 for a count piece by piece or by shots."""
    if count.method != "weight":
        return Fraction(0)
    return Fraction(count.cv_ppm, _PPM) ** 2 * _of_pieces(count) + _of_scale(count)


def spread_sd(count: CountHow) -> float:
    """Standard deviation in pieces, for a count by weight; else 0.

    Of N pieces, by the weight of m, each p steps of the scale: sqrt(N^2 (cv^2 (1/m + 1/N) + 1/(12 m^2 p^2)) +
    k/(12 p^2)) with k weights read for the goods. The pieces' part: Steiner and MacKay, Scale Counting (there the
    scale's error is neglected); the steps' part is the variance of an even distribution.

    >>> round(spread_sd(CountHow(1000, "weight", sample=10)), 3)
    3.178
    """
    return math.sqrt(_variance(count))


def cannot_tell(count: CountHow, coverage_sd: int = 2) -> bool:
    """May this count be off by more than 2 % of itself (COARSE_PPM), and by more than a piece?"""
    return spread(count, coverage_sd) > max(1, count.quantity * COARSE_PPM // _PPM)


def enough_sample(count: CountHow, coverage_sd: int = 2) -> int | None:
    """The fewest pieces to weigh together so that the same goods can be told; None where no more pieces would do.

    Then it is the weight of the goods that is too coarse: a finer scale is needed, or a count by hand.
    """
    low, high = max(1, count.sample), max(1, count.quantity)
    if cannot_tell(replace(count, sample=high), coverage_sd):
        return None
    while low < high:
        middle = (low + high) // 2
        low, high = (middle + 1, high) if cannot_tell(replace(count, sample=middle), coverage_sd) else (low, middle)
    return high


def learned(pairs: Sequence[tuple[int, CountHow]]) -> PieceSpread:
    """How much pieces differ, from goods that were counted by hand (the first figure) and weighed (the second).

    What the scale's steps explain is taken off first. Goods far off the others' median were lost or found between the
    two counts, and are left out. Few pairs say less than many: as much as Student's t widens two standard deviations
    for them, the figure is widened (n / (n - 2), within 1 % of it from eight on). It is never less than what could have
    been seen with such scales.
    """
    weighed = [(true, count) for true, count in pairs if count.method == "weight" and count.quantity and true]
    # The square of the difference, what the steps and the whole pieces explain of it, and what pieces' spread would.
    rows = [
        (Fraction(count.quantity - true) ** 2, _of_scale(count) + Fraction(1, 12), _of_pieces(count))
        for true, count in weighed
    ]
    if len(rows) < PAIRS_ENOUGH:
        return PieceSpread()
    middle = sorted((square - known) / pieces for square, known, pieces in rows)[len(rows) // 2]
    likely = max(middle / _MEDIAN_OF_SQUARE, Fraction(ASSUMED_CV_PPM, _PPM) ** 2)
    kept = [
        ((square - known) / pieces, known / pieces)
        for square, known, pieces in rows
        if square <= _OUTLIER**2 * (likely * pieces + known)
    ]
    n = len(kept)
    if n < PAIRS_ENOUGH:
        return PieceSpread()
    found = float(sum(square for square, _ in kept)) / (n - 2)
    # Two standard errors of what the scales hide: less than that could not have been seen.
    hidden = 2 * math.sqrt(2 / n) * float(sum(known for _, known in kept)) / n
    return PieceSpread(round(math.sqrt(max(found, hidden)) * _PPM), n)


def compare_counts(sent: CountHow, received: CountHow, coverage_sd: int = 2) -> Comparison:
    """Which figure to book: outside what the methods resolve the receiver's, inside the finer method's.

    Inside means that the difference is no more than coverage_sd standard deviations of both counts
    together. Equally fine methods book the receiver's figure.
    """
    sent_variance, received_variance = _variance(sent), _variance(received)
    resolves = math.isqrt(math.floor(coverage_sd**2 * (sent_variance + received_variance)))
    difference = received.quantity - sent.quantity
    inside = abs(difference) <= resolves
    sent_is_finer = (sent_variance, _ROUGHNESS[sent.method]) < (received_variance, _ROUGHNESS[received.method])
    finer: Literal["sent", "received"] = "sent" if sent_is_finer else "received"
    booked = sent.quantity if inside and sent_is_finer else received.quantity
    return Comparison(inside, booked, difference, resolves, finer)


def by_weight(gross: Fraction, tare: Fraction, sample: int, sample_weight: Fraction) -> int | None:
    """Pieces in a tote: net weight over the mean weight of the `sample` pieces, to the nearest whole one.

    All weights in one unit. None where the figures make no count: nothing weighed, or a tare above the gross weight.

    >>> by_weight(Fraction(1240, 100), Fraction(11, 10), 25, Fraction(152, 1000))
    1859
    """
    if sample <= 0 or sample_weight <= 0 or tare < 0 or gross < tare:
        return None
    return round((gross - tare) * sample / sample_weight)


def spread(count: CountHow, coverage_sd: int = 2) -> int:
    """Give or take so many pieces: coverage_sd standard deviations, rounded up to a whole piece."""
    return math.ceil(coverage_sd * spread_sd(count))
