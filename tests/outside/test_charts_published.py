"""Control charts and capability against published figures; the source stands beside each.

Where a print used rounded constants (d2 = 1.128), its tolerance says so: ours are exact.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from traveller.rules.capability import chi_square_quantile, from_figures
from traveller.rules.charts import (
    RULES,
    Mark,
    constants,
    individuals,
    marks_of,
    mean_and_range,
    p_chart,
)

TABLE = Path(__file__).parents[2] / "fixtures" / "tables" / "control_chart_constants.csv"

# Montgomery, Introduction to Statistical Quality Control, piston rings: 25 samples of 5, in mm less 74, thousandths.
# Copies with wrong digits go about, so the sum is checked.
RINGS = (
    "30 2 19 -8 8|-5 -8 1 11 4|-12 24 21 5 2|2 -4 -7 15 9|-8 7 15 -11 14|9 -6 -3 -15 -7|-5 6 -6 0 5|-15 3 -7 15 -12|"
    "8 -5 9 5 4|-2 0 -10 7 -5|-6 -2 -6 -5 -10|4 0 7 0 -4|-17 2 -2 -3 12|6 -33 -6 0 -16|12 14 -2 -1 7|0 -16 5 -2 -4|"
    "-6 12 -14 5 7|6 10 18 3 0|-16 2 3 5 -3|0 10 13 20 3|-12 1 9 5 -4|4 -1 -10 6 9|10 -11 -10 9 14|15 8 -7 0 10|"
    "-18 -16 -5 17 13"
)


def rings() -> list[list[float]]:
    """The samples in mm."""
    return [[74 + int(number) / 1000 for number in sample.split()] for sample in RINGS.split("|")]


def test_the_constants_are_the_printed_ones() -> None:
    """Factors for control charts, n = 2 to 20; tables differ in the last digit, e.g. D4(3) 2.574 or 2.575."""
    with TABLE.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            own = constants(int(row["n"]))
            d3_low, d4 = own.range_factors
            found = {"A2": own.a2, "d2": own.d2, "d3": own.d3, "D3": d3_low, "D4": d4}
            for name, value in found.items():
                assert value == pytest.approx(float(row[name]), abs=0.00101), (row["n"], name)


def test_the_range_of_two_is_known_exactly() -> None:
    """d2(2) = 2/sqrt(pi), d3(2) = sqrt(2 - 4/pi): mean and spread of the difference of two normals."""
    own = constants(2)
    assert own.d2 == pytest.approx(2 / math.sqrt(math.pi), abs=1e-9)
    assert own.d3 == pytest.approx(math.sqrt(2 - 4 / math.pi), abs=1e-9)


def test_a_p_chart_of_thirty_samples() -> None:
    """NIST/SEMATECH e-Handbook 6.3.3.2 and Montgomery's orange-juice cans (trial limits)."""
    bad = [12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6]
    chart = p_chart(bad, [50] * 30)
    assert sum(bad) == 347 and chart.centre == pytest.approx(0.231333, abs=1e-6)
    assert chart.upper[0] == pytest.approx(0.41024, abs=2e-4) and chart.lower[0] == pytest.approx(0.05243, abs=2e-4)
    assert chart.beyond == (15, 23)


def test_individuals_of_the_flow_rate() -> None:
    """NIST/SEMATECH e-Handbook 6.3.2.2: 55.8041 and 45.8159 with d2 = 1.128; exact 55.8024 and 45.8176."""
    single, moving = individuals([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    assert single.centre == pytest.approx(50.81) and moving.centre == pytest.approx(1.8778, abs=1e-4)
    assert single.upper[0] == pytest.approx(55.8024, abs=2e-4) and single.lower[0] == pytest.approx(45.8176, abs=2e-4)
    assert single.upper[0] == pytest.approx(55.8041, abs=2e-3)
    assert moving.upper[0] == pytest.approx(6.1349, abs=2e-3)


def test_means_and_ranges_of_piston_rings() -> None:
    """Montgomery, piston rings; the overall sum of the 125 values is 9250.147."""
    assert sum(map(sum, rings())) == pytest.approx(9250.147, abs=1e-6)
    means, ranges = mean_and_range(rings())
    assert (means.centre, ranges.centre) == pytest.approx((74.001176, 0.02276), abs=2e-5)
    assert (means.upper[0], means.lower[0]) == pytest.approx((74.01431, 73.98804), abs=2e-5)
    assert (ranges.upper[0], ranges.lower[0]) == pytest.approx((0.04812, 0), abs=2e-5)
    assert ranges.centre / constants(5).d2 == pytest.approx(0.009785, abs=2e-6)


def test_capability_of_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook 6.1.6: limits 8 and 20, mean 16, s 2."""
    found = from_figures(50, 16, 2, 8, 20)
    assert (found.cp, found.cpk, found.k) == pytest.approx((1.0, 0.6667, 0.3333), abs=1e-4)


def test_the_interval_of_cp_has_two_tails() -> None:
    """Montgomery: limits 38 and 62, s 1.75, n 20; 1.57 to 3.01 (from memory).

    A worked answer in print uses the one-tailed quantile 10.12 and gives 1.671 as lower end: wrong.
    """
    assert chi_square_quantile(0.025, 19) == pytest.approx(8.907, abs=1e-3)
    assert chi_square_quantile(0.975, 19) == pytest.approx(32.852, abs=1e-3)
    found = from_figures(20, 50, 1.75, 38, 62)
    assert found.cp == pytest.approx(2.2857, abs=1e-4) and found.cp_interval == pytest.approx(
        (1.5649, 3.0056), abs=1e-3
    )


# L. S. Nelson, Journal of Quality Technology, October 1984: the shortest run that breaks each rule, in sigma, and a
# run one short of it. Where a point is needed for the count alone it lies at half a sigma.
BROKEN = {
    1: [3.01],
    2: [0.5] * 9,
    3: [-0.9, -0.5, -0.1, 0.1, 0.5, 0.9],
    4: [0.5, -0.5] * 7,
    5: [2.1, -0.5, 2.1],
    6: [1.1, 1.1, -0.5, 1.1, 1.1],
    7: [0.5, -0.5, -0.5] * 5,
    8: [1.1, -1.1, -1.1, 1.1] * 2,
}


@pytest.mark.parametrize("rule", sorted(BROKEN))
def test_each_run_rule_needs_its_published_length(rule: int) -> None:
    run = BROKEN[rule]

    def marks(values: list[float]) -> tuple[Mark, ...]:
        ones = [1.0] * len(values)
        return marks_of(values, 0, ones, [-3.0] * len(values), [3.0] * len(values), (rule,))

    assert marks(run) == (Mark(len(run), rule),)
    assert marks(run[1:]) == ()
    assert set(BROKEN) == set(RULES)


def test_a_point_on_a_limit_is_not_beyond_it() -> None:
    """Western Electric and Nelson both say beyond; the first marks eight on one side, the second nine."""
    assert marks_of([3.0, -3.0], 0, [1, 1], [-3, -3], [3, 3]) == ()
