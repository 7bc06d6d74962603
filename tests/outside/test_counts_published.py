"""Counting by weight against published work.

S. H. Steiner, R. J. MacKay, "Scale Counting" (University of Waterloo): its opening pages were read; the
formula is derived from the model stated there and was checked by a simulation of 4,000 runs a case.
"""

from __future__ import annotations

import random
import statistics
from fractions import Fraction

import pytest

from tests.outside.altered import Case, Check
from traveller.rules.counts import CountHow, by_weight, spread_sd

# Pieces in the tote, pieces weighed together, spread of a piece in ppm.
SPREADS = [
    Case((1000, 10, 10_000), 3.178, within=1e-3),
    Case((1000, 50, 10_000), 1.4491, within=1e-3),
    Case((500, 10, 15_000), 2.3953, within=1e-3),
    # The simulations; their own tolerance is 3 %.
    Case((1000, 10, 10_000), 3.112, within=0.095),
    Case((1000, 50, 10_000), 1.445, within=0.0435),
    Case((500, 10, 15_000), 2.389, within=0.072),
]


def spreads_agree(case: Case) -> None:
    quantity, sample, cv_ppm = case.given
    found = spread_sd(CountHow(quantity, "weight", sample, cv_ppm))
    assert abs(found - case.published) <= case.within


# Bay State Scale, "Counting errors", piece weight error: one piece that is 3 % heavy counts 3 % short (printed),
# exactly 1/1.03: 970.87 of 1,000 pieces of 4 g in a tote of 500 g.
HEAVY = [Case(1.03, 970.87, within=0.5), Case(1.03, 970, within=1.0)]


def heavy_agrees(case: Case) -> None:
    found = by_weight(Fraction(4500), Fraction(500), 1, Fraction(4) * Fraction(str(case.given)))
    assert found is not None and abs(found - case.published) <= case.within


PUBLISHED: dict[str, tuple[list[Case], Check]] = {
    "the spread of a count by weight": (SPREADS, spreads_agree),
    "a piece that is heavy": (HEAVY, heavy_agrees),
}


@pytest.mark.parametrize("title", PUBLISHED)
def test_counts_by_weight_are_as_published(title: str) -> None:
    cases, check = PUBLISHED[title]
    for case in cases:
        check(case)


def test_weighing_simulated_pieces_spreads_as_the_formula_says() -> None:
    rng = random.Random(20)
    quantity, sample, cv = 200, 10, 0.01
    shown = []
    for _ in range(2000):
        piece_weight = statistics.fmean(rng.gauss(1, cv) for _ in range(sample))
        batch_weight = sum(rng.gauss(1, cv) for _ in range(quantity))
        shown.append(batch_weight / piece_weight)
    formula = spread_sd(CountHow(quantity, "weight", sample, 10_000))
    # The spread of 2,000 runs has itself a standard error of 1/sqrt(4000) = 1.6 %; three of them are allowed.
    assert statistics.stdev(shown) == pytest.approx(formula, rel=0.048)
