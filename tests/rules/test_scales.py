"""Counts by weight on drawn scales: the true count lies where the spread says, and a coarse scale says that it cannot
tell."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.counts import (
    ASSUMED_CV_PPM,
    PAIRS_ENOUGH,
    CountHow,
    PieceSpread,
    by_weight,
    cannot_tell,
    compare_counts,
    enough_sample,
    learned,
    spread,
    spread_sd,
)

# Ten globes of 0.53 g each on a scale of 1 g: it shows 5 g, so a piece weighs half a step.
COARSE = CountHow(1060, "weight", 10, sample_steps=Fraction(1, 2), steps=Fraction(1, 2))


def test_ten_light_pieces_on_a_coarse_scale_cannot_tell_60_from_none() -> None:
    """By hand: sample 1060 x 0.289/5 = 61.2, pieces 1060 x 1 % x sqrt(1/10 + 1/1060) = 3.37, goods 0.58."""
    assert spread_sd(COARSE) == pytest.approx(61.29, abs=0.02)
    found = compare_counts(CountHow(1000, "hand"), COARSE)
    assert (found.inside, found.booked, found.difference) == (True, 1000, 60)
    assert cannot_tell(COARSE)


def test_it_says_how_many_pieces_would_do() -> None:
    enough = enough_sample(COARSE)
    assert enough == 59
    assert not cannot_tell(replace(COARSE, sample=enough)) and cannot_tell(replace(COARSE, sample=enough - 1))


def test_where_the_goods_are_too_light_for_the_scale_no_sample_does() -> None:
    """Twenty pieces of 0.53 g on a scale of 100 g: whatever the weight of one was set from."""
    assert enough_sample(CountHow(20, "weight", 10, sample_steps=Fraction(50), steps=Fraction(53, 10_000))) is None


def test_a_step_that_nobody_knows_counts_as_none() -> None:
    assert spread_sd(CountHow(1000, "weight", 10)) == pytest.approx(3.178, abs=1e-3)


def test_an_empty_reading_of_a_coarse_scale_may_hide_pieces() -> None:
    assert spread(CountHow(0, "weight", 10, sample_steps=Fraction(50), steps=Fraction(1, 100))) == 58


@given(st.integers(1, 3000), st.integers(1, 60), st.fractions(Fraction(1, 10), 100), st.integers(1, 5))
def test_a_finer_scale_and_a_larger_sample_never_widen_the_spread(
    quantity: int, sample: int, steps: Fraction, readings: int
) -> None:
    count = CountHow(quantity, "weight", sample, sample_steps=steps, steps=steps, readings=readings)
    assert spread_sd(replace(count, sample=sample + 1)) < spread_sd(count)
    assert spread_sd(replace(count, sample_steps=2 * steps, steps=2 * steps)) < spread_sd(count)
    assert spread_sd(replace(count, readings=readings + 1)) > spread_sd(count)


def weighed(draw: random.Random, pieces: int, sample: int, cv: float, of_sample: float, of_goods: float) -> CountHow:
    """What scales with these steps (in pieces' weights) show of so many pieces and of an empty tote."""

    def shown(weight: float, step: float) -> Fraction:
        return Fraction(round(weight / step)) * Fraction(step)

    # A weight that is a whole number of steps would always be shown right.
    tare, one = draw.uniform(2, 40), draw.uniform(0.9, 1.1)
    reference = shown(sum(draw.gauss(one, cv * one) for _ in range(sample)), of_sample)
    gross = shown(tare + sum(draw.gauss(one, cv * one) for _ in range(pieces)), of_goods)
    found = by_weight(gross, shown(tare, of_goods), sample, reference)
    assert found is not None
    piece = reference / sample
    steps = (piece / Fraction(of_sample), piece / Fraction(of_goods))
    return CountHow(found, "weight", sample, round(cv * 1e6), steps[0], steps[1], readings=2)


# Pieces weighed together, the spread of a piece, steps of the sample's scale and of the goods', in weights of a piece.
SCALES = [
    (10, 0.01, 0.01, 0.05),
    (50, 0.01, 0.01, 0.05),
    (10, 0.03, 0.5, 0.5),
    (10, 0.01, 2.0, 2.0),  # the sample is five steps
    (25, 0.005, 5.0, 5.0),
    (50, 0.02, 1.0, 30.0),
]


@pytest.mark.parametrize(("sample", "cv", "of_sample", "of_goods"), SCALES)
def test_the_true_count_lies_within_two_standard_deviations_about_95_times_in_100(
    sample: int, cv: float, of_sample: float, of_goods: float
) -> None:
    draw = random.Random(8103)
    tries = 400
    inside = 0
    for _ in range(tries):
        true = draw.randint(60, 400)
        count = weighed(draw, true, sample, cv, of_sample, of_goods)
        inside += abs(count.quantity - true) <= spread(count)
    # 95 % of 400 have a standard error of 1.1 %; an even error lies inside more often than a normal one.
    assert inside / tries >= 0.95 - 3 * 0.011


@pytest.mark.parametrize("cv", [0.004, 0.01, 0.03])
def test_the_spread_of_a_piece_is_learned_from_goods_that_were_counted_too(cv: float) -> None:
    draw = random.Random(7)
    pairs = [(true, weighed(draw, true, 10, cv, 0.01, 0.01)) for true in (draw.randint(1000, 2000) for _ in range(40))]
    # Three totes lost pieces between the two counts: that says nothing of how pieces differ.
    pairs += [(true, replace(pairs[0][1], quantity=true - 300)) for true in (1200, 1300, 1400)]
    found = learned(pairs)
    # 40 squares have a relative standard error of 22 %, their root of 11 %; three of them are allowed.
    assert found.pairs == 40 and found.cv_ppm == pytest.approx(cv * 1e6, rel=0.34)


def test_a_learned_spread_keeps_its_word_from_few_pairs_on() -> None:
    """Each shop learns from as few pairs as are enough, then weighs once more: two standard deviations of 2.5 %."""
    draw = random.Random(29)
    inside, tries = 0, 300
    for _ in range(tries):
        counts = [
            (true, weighed(draw, true, 10, 0.025, 0.02, 0.02)) for true in (draw.randint(60, 150) for _ in "." * 9)
        ]
        found = learned(counts[:-1])
        true, count = counts[-1]
        inside += abs(count.quantity - true) <= spread(replace(count, cv_ppm=found.cv_ppm))
        assert found.pairs == 0 or found.pairs >= PAIRS_ENOUGH
    assert inside / tries >= 0.90


def test_few_pairs_and_counts_that_were_not_weighed_teach_nothing() -> None:
    assumed = PieceSpread(ASSUMED_CV_PPM, 0)
    pair = (100, CountHow(104, "weight", 10))
    assert learned([pair] * (PAIRS_ENOUGH - 1)) == assumed != learned([pair] * PAIRS_ENOUGH)
    assert learned([(100, CountHow(104, "hand"))] * 20) == assumed
    assert learned([(0, CountHow(4, "weight", 10))] * 20) == assumed


def test_what_the_steps_explain_is_not_laid_to_the_pieces() -> None:
    coarse = CountHow(103, "weight", 10, sample_steps=Fraction(2), steps=Fraction(1))
    fine = replace(coarse, sample_steps=Fraction(50), steps=Fraction(50))
    assert learned([(100, coarse)] * PAIRS_ENOUGH).cv_ppm < learned([(100, fine)] * PAIRS_ENOUGH).cv_ppm


def test_what_a_coarse_scale_hides_is_not_learned_as_nothing() -> None:
    """Every count came out right by luck: 100 pieces in steps that are off by about 1.5 teach no more than that."""
    coarse = CountHow(100, "weight", 10, sample_steps=Fraction(2), steps=Fraction(2))
    assert learned([(100, coarse)] * PAIRS_ENOUGH).cv_ppm > 20_000
