"""Control charts and capability against published figures; the source stands beside each.

Where a print used rounded constants (d2 = 1.128), its tolerance says so: ours are exact.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.outside.altered import Case, Check
from traveller.rules.capability import chi_square_quantile, from_figures
from traveller.rules.charts import RULE_SETS, constants, individuals, marks_of, mean_and_range, p_chart

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


def near(own: object, case: Case) -> None:
    """Ours and the published, figure by figure."""
    assert own == pytest.approx(case.published, rel=0, abs=float(case.within))


# Factors for control charts, n = 2 to 20; tables differ in the last digit, e.g. D4(3) 2.574 or 2.575.
with TABLE.open(encoding="utf-8") as _file:
    FACTORS = [
        Case(int(row["n"]), [float(row[name]) for name in ("A2", "d2", "d3", "D3", "D4")], within=0.00101)
        for row in csv.DictReader(_file)
    ]
# d2(2) = 2/sqrt(pi), d3(2) = sqrt(2 - 4/pi): mean and spread of the difference of two normals, known exactly.
EXACT = [Case(2, [2 / math.sqrt(math.pi), math.sqrt(2 - 4 / math.pi)], within=1e-9)]


def factors_agree(case: Case) -> None:
    own = constants(case.given)
    near([own.a2, own.d2, own.d3, *own.range_factors], case)


def two_agree(case: Case) -> None:
    own = constants(case.given)
    near([own.d2, own.d3], case)


# NIST/SEMATECH e-Handbook 6.3.3.2 and Montgomery's orange-juice cans (trial limits): centre, limits, what is beyond.
JUICE = [12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6]
SHARES = [
    Case("limits", [0.05243, 0.41024], within=2e-4),
    Case("centre", [0.231333], within=1e-6),
    Case("beyond", [15, 23]),
]


def shares_agree(case: Case) -> None:
    chart = p_chart(JUICE, [50] * 30)
    own = {"limits": [chart.lower[0], chart.upper[0]], "centre": [chart.centre], "beyond": list(chart.beyond)}
    near(own[case.given], case)


# NIST/SEMATECH e-Handbook 6.3.2.2: 55.8041 and 45.8159 with d2 = 1.128; exact 55.8024 and 45.8176. Centre, limits,
# mean moving range, its limit.
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
SINGLES = [
    Case("printed", [50.81, 45.8159, 55.8041, 1.8778, 6.1349], within=2e-3),
    Case("with the exact d2", [50.81, 45.8176, 55.8024, 1.8778], within=2e-4),
]


def singles_agree(case: Case) -> None:
    single, moving = individuals(FLOW)
    own = [single.centre, single.lower[0], single.upper[0], moving.centre, moving.upper[0]]
    near(own[: len(case.published)], case)


# Montgomery, piston rings: mean and its limits, mean range and its limits, sigma from the ranges.
PISTONS = [Case(RINGS, [74.001176, 73.98804, 74.01431, 0.02276, 0, 0.04812, 0.009785], within=2e-5)]


def pistons_agree(case: Case) -> None:
    means, ranges = mean_and_range(rings())
    sigma = ranges.centre / constants(5).d2
    near([means.centre, means.lower[0], means.upper[0], ranges.centre, ranges.lower[0], ranges.upper[0], sigma], case)


# NIST/SEMATECH e-Handbook 6.1.6: n (any), mean, s, limits; Cp, Cpk, k. Then Montgomery: limits 38 and 62, s 1.75, n 20.
CAPABLE = [Case((50, 16, 2, 8, 20), [1.0, 0.6667, 0.3333], within=1e-4)]
# Cp 2.29 printed, its interval 1.57 to 3.01 (from memory). A worked answer in print uses the one-tailed quantile 10.12
# and gives 1.671 as lower end: wrong.
INTERVAL = [Case((20, 50, 1.75, 38, 62), [2.2857, 1.5649, 3.0056], within=1e-3)]
# Chi-square with 19 degrees of freedom, both tails of 95 %.
QUANTILES = [Case((0.025, 19), 8.907, within=1e-3), Case((0.975, 19), 32.852, within=1e-3)]


def capability_agrees(case: Case) -> None:
    found = from_figures(*case.given)
    near([found.cp, found.cpk, found.k], case)


def interval_agrees(case: Case) -> None:
    found = from_figures(*case.given)
    assert found.cp_interval is not None
    near([found.cp, *found.cp_interval], case)


def quantiles_agree(case: Case) -> None:
    near(chi_square_quantile(*case.given), case)


# So many of so many beyond sigma on one side: L. S. Nelson, Journal of Quality Technology, October 1984, rules 1, 5, 6;
# the zone tests of Western Electric, Statistical Quality Control Handbook (1956) are the same three.
ZONES = [Case(1, (1, 1, 3.0)), Case(5, (2, 3, 2.0)), Case(6, (4, 5, 1.0))]
# So many in a row: rules 2, 3, 4, 7, 8 of the same paper; the fourth zone test of 1956 has eight for nine on one side.
RUNS = [Case(2, 9), Case(3, 6), Case(4, 14), Case(7, 15), Case(8, 8), Case(9, 8)]
PATTERNS: dict[int, Callable[[int], float]] = {
    2: lambda n: 0.5,
    3: lambda n: 0.1 * n - 0.9,
    4: lambda n: (-1) ** n * 0.5,
    7: lambda n: (0.5, -0.5, -0.5)[n % 3],
    8: lambda n: (1.1, -1.1, -1.1, 1.1)[n % 4],
    9: lambda n: -0.5,
}


def points_of(values: list[float], rule: int) -> list[int]:
    """Where one rule marks values whose sigma is 1."""
    ones = [1.0] * len(values)
    found = marks_of(values, 0, ones, [-3.0] * len(values), [3.0] * len(values), (rule,))
    return [mark.point for mark in found]


def zones_agree(case: Case) -> None:
    """The shortest run that breaks the rule does, at its newest point; one point more between, one beyond fewer, or
    points just inside the zone do not."""
    beyond, among, sigma = case.published

    def run(out: float, between: int, count: int) -> list[float]:
        return [0.5] * 6 + [out] + [0.5] * between + [out] * (count - 1) + [0.5] * 2 if count else [0.5] * 9

    between = among - beyond
    assert points_of(run(sigma + 0.01, between, beyond), case.given) == [6 + among]
    assert points_of(run(sigma + 0.01, between, beyond - 1), case.given) == []
    assert points_of(run(sigma - 0.01, between, beyond), case.given) == []
    assert points_of(run(sigma, between, beyond), case.given) == [], "a point on a limit is not beyond it"
    if beyond > 1:
        assert points_of(run(sigma + 0.01, between + 1, beyond), case.given) == []


def runs_agree(case: Case) -> None:
    """The published length breaks the rule, one less does not."""
    values = [PATTERNS[case.given](n) for n in range(case.published)]
    assert points_of(values, case.given) == [case.published]
    assert points_of(values[1:], case.given) == []


PUBLISHED: dict[str, tuple[list[Case], Check]] = {
    "factors for control charts": (FACTORS, factors_agree),
    "the range of two": (EXACT, two_agree),
    "a p chart of thirty samples": (SHARES, shares_agree),
    "individuals of the flow rate": (SINGLES, singles_agree),
    "means and ranges of piston rings": (PISTONS, pistons_agree),
    "capability of the handbook": (CAPABLE, capability_agrees),
    "the interval of Cp": (INTERVAL, interval_agrees),
    "quantiles of chi-square": (QUANTILES, quantiles_agree),
    "zones": (ZONES, zones_agree),
    "runs": (RUNS, runs_agree),
}


@pytest.mark.parametrize("title", PUBLISHED)
def test_charts_are_as_published(title: str) -> None:
    cases, check = PUBLISHED[title]
    for case in cases:
        check(case)


def test_the_copies_are_whole_and_every_rule_has_its_length() -> None:
    assert sum(JUICE) == 347
    assert sum(map(sum, rings())) == pytest.approx(9250.147, abs=1e-6), "the sum of the 125 values"
    assert {case.given for case in (*ZONES, *RUNS)} == {rule for rules in RULE_SETS.values() for rule in rules}
