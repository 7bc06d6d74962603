"""Laws of soak, equivalent minutes and conduction, as properties."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.plate import centre_under, plate_share
from traveller.rules.cooling import fixture_positions
from traveller.rules.cure import (
    Arrhenius,
    Doubling,
    Rate,
    Rheometer,
    equivalent_minutes,
    from_curve,
)
from traveller.rules.soak import Held, held, part_of, trace

degrees = st.floats(0, 250)
rates: st.SearchStrategy[Rate] = st.one_of(
    st.builds(Arrhenius, st.floats(30_000, 300_000), st.just(150.0)),
    st.builds(Doubling, st.floats(4, 30), st.just(150.0)),
)
points = st.lists(st.tuples(st.integers(1, 300), degrees), min_size=2, max_size=12)


def series(rows: list[tuple[int, float]]) -> tuple[np.ndarray[tuple[int, ...], np.dtype[np.float64]], ...]:
    """Steps and temperatures as times and temperatures."""
    return np.cumsum([float(step) for step, _ in rows]), np.array([celsius for _, celsius in rows])


def soaked(rows: list[tuple[int, float]], hot: float, gap_s: float = 200) -> Held:
    """How long at least so hot."""
    times, values = series(rows)
    return held(trace(times, values, gap_s), hot)


@given(points, rates, st.floats(0, 30))
def test_equivalent_minutes_grow_with_temperature(rows: list[tuple[int, float]], rate: Rate, more: float) -> None:
    times, values = series(rows)
    assert equivalent_minutes(times, values + more, rate) >= equivalent_minutes(times, values, rate) * (1 - 1e-12)


@given(points, rates, st.floats(1, 3))
def test_equivalent_minutes_grow_with_time(rows: list[tuple[int, float]], rate: Rate, factor: float) -> None:
    times, values = series(rows)
    found = equivalent_minutes(times, values, rate)
    assert equivalent_minutes(times * factor, values, rate) == pytest.approx(found * factor, rel=1e-9)


@given(points, rates, st.data())
def test_equivalent_minutes_add_over_pieces(rows: list[tuple[int, float]], rate: Rate, data: st.DataObject) -> None:
    times, values = series(rows)
    cut = data.draw(st.integers(0, len(rows) - 1))
    parts = equivalent_minutes(times[: cut + 1], values[: cut + 1], rate) + equivalent_minutes(
        times[cut:], values[cut:], rate
    )
    assert parts == pytest.approx(equivalent_minutes(times, values, rate), rel=1e-9, abs=1e-300)


@given(points, rates, st.integers(2, 40))
def test_finer_sampling_of_straight_pieces_changes_nothing(
    rows: list[tuple[int, float]], rate: Rate, parts: int
) -> None:
    times, values = series(rows)
    finer = np.unique(np.concatenate([times, np.linspace(times[0], times[-1], parts)]))
    found = equivalent_minutes(finer, np.interp(finer, times, values), rate)
    assert found == pytest.approx(equivalent_minutes(times, values, rate), rel=1e-6)


@given(st.floats(20, 200), st.floats(1, 120), st.floats(4, 30))
def test_a_straight_rise_by_doublings_is_what_calculus_says(start: float, rise: float, doubling: float) -> None:
    """The integral of 2^(T/d) over a straight piece: (r2 - r1) / ln(r2 / r1) times its length."""
    first, second = (2 ** ((t - 150) / doubling) for t in (start, start + rise))
    found = equivalent_minutes(np.array([0.0, 600.0]), np.array([start, start + rise]), Doubling(doubling, 150))
    assert found == pytest.approx(10 * (second - first) / math.log(second / first), rel=1e-7)


@given(points, degrees, st.data())
def test_a_soak_never_grows_when_a_reading_is_lowered(
    rows: list[tuple[int, float]], hot: float, data: st.DataObject
) -> None:
    place, less = data.draw(st.integers(0, len(rows) - 1)), data.draw(st.floats(0, 100))
    lowered = [(step, celsius - less if n == place else celsius) for n, (step, celsius) in enumerate(rows)]
    before, after = soaked(rows, hot), soaked(lowered, hot)
    assert after.longest_s <= before.longest_s + 1e-6 and after.total_s <= before.total_s + 1e-6
    assert after.longest_s <= after.total_s + 1e-9


def test_crossings_are_exact_on_a_straight_line() -> None:
    rows = [(0, 100.0), (60, 160.0), (60, 160.0), (60, 100.0)]
    found = soaked(rows, 130.0)
    assert found.longest_s == pytest.approx(30 + 60 + 30, abs=1e-6) and found.reached_at == 30.0


def test_the_longest_unbroken_and_the_total_are_told_apart() -> None:
    found = soaked([(0, 150.0), (60, 150.0), (10, 140.0), (10, 150.0), (120, 150.0)], 150.0)
    assert (found.longest_s, found.total_s) == (120.0, 180.0)


def test_nothing_counts_in_a_gap_and_no_stretch_goes_on_behind_it() -> None:
    times, values = np.array([0.0, 60.0, 400.0, 460.0]), np.full(4, 160.0)
    found = trace(times, values, 120)
    assert found.gaps == ((60.0, 400.0),) and held(found, 150) == Held(60.0, 120.0, 0.0, 160.0, 160.0)


def test_a_part_is_cut_on_the_straight_line_and_its_open_ends_are_gaps() -> None:
    whole = trace(np.array([0.0, 60.0, 120.0]), np.array([100.0, 160.0, 160.0]), 60)
    part = part_of(whole, 30, 90)
    assert part is not None and part.seconds.tolist() == [30, 60, 90] and part.celsius.tolist() == [130, 160, 160]
    wide = part_of(whole, -100, 181)
    assert wide is not None and wide.gaps == ((-100.0, 0.0), (120.0, 181.0))
    assert part_of(whole, 121, 300) is None and part_of(whole, -50, -1) is None


@given(st.floats(2, 30), st.floats(0.05, 0.3), st.floats(60, 1200))
def test_the_middle_lies_between_start_and_face_and_lags(thickness: float, diffusivity: float, seconds: float) -> None:
    _, centre = centre_under(
        [0, seconds], [160, 160], thickness_mm=thickness, diffusivity_mm2_s=diffusivity, start_c=25
    )
    assert (centre >= 25 - 0.1).all() and (centre <= 160 + 1e-6).all() and (np.diff(centre) >= -0.1).all()
    share = plate_share(math.inf, diffusivity * seconds / (thickness / 2) ** 2)
    assert centre[-1] == pytest.approx(160 - 135 * share, abs=0.01)


def test_a_slowly_rising_face_leaves_the_middle_behind_by_what_theory_says() -> None:
    """Quasi-steady lag of a slab whose faces rise by s a second: s L^2 / (2 a)."""
    _, centre = centre_under([0, 7200], [25, 25 + 0.01 * 7200], thickness_mm=10, diffusivity_mm2_s=0.1, start_c=25)
    assert 25 + 0.01 * 7200 - centre[-1] == pytest.approx(0.01 * 5**2 / (2 * 0.1), rel=1e-4)


@pytest.mark.parametrize(
    ("curve", "code"),
    [
        ([(0, 5), (1, 6)], "curve.too_few"),
        ([(0, 5), (2, 6), (1, 20)], "curve.not_in_order"),
        ([(0, 5), (1, 5.5), (2, 6)], "curve.no_cure"),
    ],
)
def test_a_curve_that_proves_no_cure_says_why(curve: list[tuple[float, float]], code: str) -> None:
    assert from_curve(curve) == code


def test_a_curve_that_still_climbs_is_marked() -> None:
    found = from_curve([(0, 5), (2, 10), (4, 15), (6, 20)])
    assert isinstance(found, Rheometer) and found.still_rising


@pytest.mark.parametrize(
    ("cooling", "cycle", "cavities", "wanted"), [(900, 45, 2, 40), (901, 45, 2, 41), (0, 45, 2, 0)]
)
def test_a_fixture_keeps_up_with_the_mould(cooling: float, cycle: float, cavities: int, wanted: int) -> None:
    assert fixture_positions(cooling, cycle, cavities) == wanted
