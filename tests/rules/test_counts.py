"""Two counts of the same totes: inside or outside what the methods resolve, and the figure booked."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.counts import METHODS, Comparison, CountHow, by_weight, compare_counts, spread, spread_sd

counts = st.builds(
    CountHow,
    quantity=st.integers(0, 5000),
    method=st.sampled_from(METHODS),
    sample=st.integers(0, 100),
    cv_ppm=st.integers(0, 50_000),
)


def test_counts_by_hand_that_differ_book_the_receivers_figure_and_leave_the_rest_unexplained() -> None:
    found = compare_counts(CountHow(1132, "hand"), CountHow(1130, "hand"))
    assert found == Comparison(inside=False, booked=1130, difference=-2, resolves=0, finer="received")


def test_a_weighed_arrival_within_its_spread_books_the_senders_hand_count() -> None:
    # sd = 1000 * 0.01 * sqrt(1/10 + 1/1000) = 3.178; twice that resolves 6 pieces.
    found = compare_counts(CountHow(1000, "hand"), CountHow(994, "weight", sample=10))
    assert found == Comparison(inside=True, booked=1000, difference=-6, resolves=6, finer="sent")


def test_one_piece_beyond_what_the_scale_resolves_is_outside() -> None:
    found = compare_counts(CountHow(1000, "hand"), CountHow(993, "weight", sample=10))
    assert (found.inside, found.booked, found.difference) == (False, 993, -7)


def test_more_than_was_sent_is_signed_the_other_way() -> None:
    found = compare_counts(CountHow(500, "shots"), CountHow(510, "hand"))
    assert (found.inside, found.booked, found.difference) == (False, 510, 10)


def test_a_sample_that_nobody_noted_counts_as_the_least_of_ten() -> None:
    assert spread_sd(CountHow(1000, "weight")) == spread_sd(CountHow(1000, "weight", sample=10))


def test_two_weighings_book_the_one_with_the_larger_sample() -> None:
    found = compare_counts(CountHow(1000, "weight", sample=100), CountHow(1003, "weight", sample=10))
    assert (found.inside, found.booked, found.finer) == (True, 1000, "sent")


def test_equally_fine_methods_book_the_receivers_figure() -> None:
    same = CountHow(1000, "weight", sample=50)
    assert compare_counts(same, same).finer == "received"


def test_of_two_counts_without_spread_the_one_by_hand_is_finer_than_the_one_by_shots() -> None:
    assert compare_counts(CountHow(500, "hand"), CountHow(500, "shots")).finer == "sent"
    assert compare_counts(CountHow(500, "shots"), CountHow(500, "hand")).finer == "received"


def test_a_wider_coverage_resolves_less() -> None:
    weighed = CountHow(993, "weight", sample=10)
    assert not compare_counts(CountHow(1000, "hand"), weighed, coverage_sd=2).inside
    assert compare_counts(CountHow(1000, "hand"), weighed, coverage_sd=3).inside


@given(counts, counts, st.integers(1, 4))
def test_what_is_booked_and_the_difference_always_tell_both_counts(sent: CountHow, received: CountHow, k: int) -> None:
    found = compare_counts(sent, received, k)
    assert found.difference == received.quantity - sent.quantity
    assert found.inside == (abs(found.difference) <= found.resolves)
    assert found.booked in (sent.quantity, received.quantity)
    assert found.inside or found.booked == received.quantity
    both = k * math.hypot(spread_sd(sent), spread_sd(received))
    assert found.resolves <= both + 1e-6
    assert found.resolves > both - 1 - 1e-6


@given(st.integers(1, 5000), st.integers(1, 99), st.integers(1, 50_000))
def test_a_larger_sample_never_widens_the_spread(quantity: int, sample: int, cv_ppm: int) -> None:
    small = CountHow(quantity, "weight", sample, cv_ppm)
    assert spread_sd(CountHow(quantity, "weight", sample + 1, cv_ppm)) < spread_sd(small)


def test_negative_counts_are_faults_of_the_program() -> None:
    with pytest.raises(ValueError, match="not negative"):
        CountHow(-1, "hand")


@pytest.mark.parametrize(
    ("gross", "tare", "sample", "weight", "pieces"),
    [
        (1240, 110, 25, 152, 186),
        (100, 100, 10, 50, 0),
        (0, 0, 10, 50, 0),
        (99, 100, 10, 50, None),
        (100, -1, 10, 50, None),
        (100, 0, 0, 50, None),
        (100, 0, 10, 0, None),
    ],
)
def test_pieces_follow_from_their_weight(gross: int, tare: int, sample: int, weight: int, pieces: int | None) -> None:
    assert by_weight(Fraction(gross), Fraction(tare), sample, Fraction(weight)) == pieces


@given(pieces=st.integers(0, 20_000), one=st.fractions(Fraction(1, 1000), 500), sample=st.integers(1, 200))
def test_pieces_that_weigh_alike_are_counted_exactly_in_any_unit(pieces: int, one: Fraction, sample: int) -> None:
    tare = Fraction(7, 3)
    for unit in (Fraction(1), Fraction(100_000, 45_359_237)):
        gross, together = (tare + pieces * one) * unit, sample * one * unit
        assert by_weight(gross, tare * unit, sample, together) == pieces


def test_give_or_take_is_rounded_up_to_a_whole_piece() -> None:
    assert spread(CountHow(1000, "weight", 10)) == 7  # twice 3.178
    assert spread(CountHow(1000, "hand")) == 0
