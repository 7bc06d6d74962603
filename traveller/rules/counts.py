"""Do two counts agree? What a counting method can resolve, and which figure is booked on arrival."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal, get_args

__all__ = ["METHODS", "Comparison", "CountHow", "Method", "by_weight", "compare_counts", "spread", "spread_sd"]

Method = Literal["hand", "weight", "shots"]
METHODS: Final[tuple[Method, ...]] = get_args(Method)
_PPM = 1_000_000
# "Weigh at least 10 pieces to set the piece weight": taken where nobody noted how many were weighed.
_LEAST_SAMPLE = 10
# A shot counter sees the press open, not a piece fall: with equal spread a count by hand is the finer.
_ROUGHNESS: Final[dict[Method, int]] = {"hand": 0, "shots": 1, "weight": 2}


@dataclass(frozen=True, slots=True)
class CountHow:
    """A counted quantity and how it was counted.

    For a count by weight: sample = pieces weighed to set the piece weight (0 = not noted, taken as 10),
    cv_ppm = spread of a piece's weight, one standard deviation in ppm of it (10,000 = 1 %).
    """

    quantity: int
    method: Method
    sample: int = 0
    cv_ppm: int = 10_000

    def __post_init__(self) -> None:
        if min(self.quantity, self.sample, self.cv_ppm) < 0:
            raise ValueError("a count, its sample and its spread are not negative")


@dataclass(frozen=True, slots=True)
class Comparison:
    """Sent against received: difference = received - sent; resolves = the widest difference still inside."""

    inside: bool
    booked: int
    difference: int
    resolves: int
    finer: Literal["sent", "received"]


def _variance(count: CountHow) -> Fraction:
    """Square of the spread in pieces, exact; 0 for a count piece by piece or by shots."""
    if count.method != "weight" or not count.quantity:
        return Fraction(0)
    sample = count.sample or _LEAST_SAMPLE
    relative = Fraction(count.cv_ppm, _PPM) ** 2 * (Fraction(1, sample) + Fraction(1, count.quantity))
    return count.quantity**2 * relative


def spread_sd(count: CountHow) -> float:
    """Standard deviation in pieces: by weight N * cv * sqrt(1/m + 1/N), scale error neglected; else 0.

    The first term is the piece weight set from m pieces, the second the N pieces themselves.
    """
    return math.sqrt(_variance(count))


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
