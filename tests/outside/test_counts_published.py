"""Counting by weight against published work.

S. H. Steiner, R. J. MacKay, "Scale Counting" (University of Waterloo): its opening pages were read; the
formula is derived from the model stated there and was checked by a simulation of 4,000 runs a case.
"""

from __future__ import annotations

import random
import statistics
from fractions import Fraction

import pytest

from traveller.rules.counts import CountHow, by_weight, spread_sd

CASES = [(1000, 10, 10_000, 3.178, 3.112), (1000, 50, 10_000, 1.4491, 1.445), (500, 10, 15_000, 2.3953, 2.389)]


@pytest.mark.parametrize(("quantity", "sample", "cv_ppm", "sd", "simulated"), CASES)
def test_the_spread_of_a_count_by_weight(quantity: int, sample: int, cv_ppm: int, sd: float, simulated: float) -> None:
    found = spread_sd(CountHow(quantity, "weight", sample, cv_ppm))
    assert found == pytest.approx(sd, abs=1e-3)
    assert found == pytest.approx(simulated, rel=0.03)


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


def test_a_piece_weight_that_is_3_percent_heavy_counts_about_3_percent_short() -> None:
    # Bay State Scale, "Counting errors", piece weight error: printed 3 %; exactly 1/1.03, that is -2.91 %.
    # 1,000 pieces of 4 g in a tote of 500 g, the weight of one set from a heavy piece.
    assert by_weight(Fraction(4500), Fraction(500), 1, Fraction(412, 100)) == round(1000 / Fraction(103, 100)) == 971
