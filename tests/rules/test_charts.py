"""Laws of control charts and capability, and what they refuse."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.capability import ENOUGH, capability, chi_square_quantile, from_figures
from traveller.rules.charts import RULE_SETS, Mark, constants, individuals, marks_of, mean_and_range, p_chart

values = st.lists(st.floats(-100, 100), min_size=2, max_size=40)


@given(values, st.floats(-50, 50), st.floats(0.1, 10))
def test_a_chart_moves_and_stretches_with_its_values(found: list[float], moved: float, factor: float) -> None:
    """The same readings in inches or in mm break the same rules; limits on the verge are left out."""
    before, _ = individuals(found)
    after, _ = individuals([value * factor + moved for value in found])
    assert after.centre == pytest.approx(before.centre * factor + moved, abs=1e-6)
    assert after.upper[0] == pytest.approx(before.upper[0] * factor + moved, abs=1e-6)


@given(st.lists(st.integers(0, 50), min_size=2, max_size=30))
def test_limits_of_shares_stay_possible(bad: list[int]) -> None:
    share = p_chart(bad, [50] * len(bad))
    assert all(0 <= low <= share.centre <= high <= 1 for low, high in zip(share.lower, share.upper, strict=True))


def test_a_larger_sample_has_narrower_limits() -> None:
    chart = p_chart([5, 10, 20], [50, 100, 200])
    assert chart.upper[0] > chart.upper[1] > chart.upper[2]


def test_steady_values_break_no_rule_and_one_wild_one_is_marked() -> None:
    steady = [10.0, 10.2, 9.9, 10.1, 9.8, 10.0, 10.1, 9.9, 10.2, 9.8]
    assert individuals(steady)[0].marks == ()
    assert [mark.point for mark in individuals([*steady, 12.0])[0].marks if mark.rule == 1] == [11]
    means, ranges = mean_and_range([[1.0, 1.1], [1.0, 1.1], [1.0, 3.0], [1.1, 1.0]] * 3)
    assert len(means.values) == len(ranges.values) == 12


@pytest.mark.parametrize("n", range(2, 12))
def test_constants_grow_with_the_sample_as_they_must(n: int) -> None:
    own, more = constants(n), constants(n + 1)
    assert more.d2 > own.d2 and more.a2 < own.a2


def test_what_is_no_chart_is_a_fault_of_the_program() -> None:
    for wrong in (
        lambda: p_chart([3], [50]),
        lambda: p_chart([3, 60], [50, 50]),
        lambda: mean_and_range([[1], [1, 2]]),
    ):
        with pytest.raises(ValueError):
            wrong()


@given(st.lists(st.floats(9, 11), min_size=ENOUGH, max_size=60, unique=True), st.floats(0.5, 20))
def test_capability_is_the_same_in_inches_and_millimetres(found: list[float], low: float) -> None:
    before = capability(found, low, low + 5)
    after = capability([value * 25.4 for value in found], low * 25.4, (low + 5) * 25.4)
    assert before is not None and after is not None
    assert after.cpk == pytest.approx(before.cpk, rel=1e-6, abs=1e-9)
    assert before.cp is not None and before.cp_interval is not None and before.cpk <= before.cp + 1e-12
    assert before.cp_interval[0] <= before.cp <= before.cp_interval[1]
    assert before.cpk_interval[0] <= before.cpk <= before.cpk_interval[1]


def test_a_few_pieces_have_no_capability() -> None:
    few = [10 + place / 100 for place in range(ENOUGH)]
    assert capability(few[:-1], 9, 11) is None and capability(few, 9, 11) is not None
    assert capability([10.0] * ENOUGH, 9, 11) is None


def test_one_limit_has_a_cpk_and_no_cp() -> None:
    found = from_figures(30, 10, 1, None, 13)
    assert (found.cp, found.cp_interval, found.k) == (None, None, None) and found.cpk == 1.0
    assert found.ppm == pytest.approx(1349.9, abs=0.1)


@given(st.floats(0.001, 0.999), st.integers(1, 200))
def test_the_quantile_of_two_degrees_is_known_and_all_grow(share: float, freedom: int) -> None:
    assert chi_square_quantile(share, 2) == pytest.approx(-2 * math.log(1 - share), rel=1e-9)
    assert chi_square_quantile(share, freedom) < chi_square_quantile(share, freedom + 1)


@given(st.floats(0.001, 1e6), st.integers(9, 30))
def test_equal_values_lie_on_no_side_however_their_mean_is_rounded(value: float, n: int) -> None:
    """All that can be said of them is rule 7: they keep closer to the centre than chance would."""
    charts = (*individuals([value] * n), *mean_and_range([[value, value * 1.001, value * 0.999]] * n))
    assert {mark.rule for chart in charts for mark in chart.marks} <= {7}


def marks(z: list[float], *rules: int) -> list[Mark]:
    """What these rules mark in values whose sigma is 1."""
    return list(marks_of(z, 0, [1.0] * len(z), [-3.0] * len(z), [3.0] * len(z), rules))


@pytest.mark.parametrize(
    ("z", "rule", "points"),
    [
        ([2.1, 2.1, 0], 5, [2]),  # two of the first two
        ([2.1, 0, 2.1], 5, [3]),
        ([0, 2.1, 2.1], 5, [3]),
        ([2.1, -2.1, 0], 5, []),  # not on one side
        ([2.1], 5, []),
        ([1.1, 1.1, 1.1, 1.1], 6, [4]),  # four of the first four
        ([1.1, 1.1, 0, 1.1, 1.1], 6, [5]),
        ([0, 1.1, 1.1, 1.1, 1.1], 6, [5]),
        ([1.1, 1.1, 1.1], 6, []),
    ],
)
def test_a_run_rule_is_broken_at_a_charts_start_too(z: list[float], rule: int, points: list[int]) -> None:
    assert marks(z, rule) == [Mark(point, rule) for point in points]
    assert marks([-one for one in z], rule) == [Mark(point, rule) for point in points]


@pytest.mark.parametrize(("rule", "sigma", "wanted", "length"), [(5, 2.1, 2, 3), (6, 1.1, 4, 5)])
def test_the_newest_point_must_itself_be_beyond(rule: int, sigma: float, wanted: int, length: int) -> None:
    """A pattern is marked once, at the point that completes it: what follows inside the limits breaks nothing."""
    run = [0.0] * 6 + [sigma] * wanted + [0.5] * 6
    assert marks(run, rule) == [Mark(6 + wanted, rule)]
    gap = [0.0] * 6 + [sigma, *[0.5] * (length - wanted), *[sigma] * (wanted - 1), 0.5, 0.5]
    assert marks(gap, rule) == [Mark(6 + length, rule)]


def test_eight_in_a_row_on_one_side_are_marked_by_the_older_rules_and_nine_by_the_newer() -> None:
    run = [0.5] * 8
    assert marks(run, *RULE_SETS["1956"]) == [Mark(8, 9)] and marks(run, *RULE_SETS["1984"]) == []
    assert marks([*run, 0.5], 2) == [Mark(9, 2)] and marks([*run[1:], -0.5], 9) == []
    # A mean between two levels: eight above it, eight below.
    steps = [10.0, 10.1] * 4 + [9.0, 9.1] * 4
    old, new = (individuals(steps, rules)[0].marks for rules in (RULE_SETS["1956"], RULE_SETS["1984"]))
    assert [mark.point for mark in old if mark.rule == 9] == [8, 16] and not [m for m in new if m.rule in (2, 9)]
    assert [mark.point for mark in p_chart([2] * 8 + [6] * 8, [50] * 16, RULE_SETS["1956"]).marks] == [8, 16]
    assert mean_and_range([[one, one + 0.2] for one in steps], RULE_SETS["1956"])[0].marks != ()
