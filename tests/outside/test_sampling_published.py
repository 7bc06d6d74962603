"""Sampling plans against MIL-STD-105E (10 May 1989, a work of the United States government) and other prints."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from tests.outside.altered import Case, Check
from traveller.rules.sampling import (
    SamplingPlan,
    acceptance_limit,
    acceptance_probability,
    code_letter,
    single_plan,
)
from traveller.rules.sampling_tables import ACCEPTANCE_LIMITS, CODE_LETTERS, LEVELS, PLANS, SAMPLE_SIZES

TABLES = Path(__file__).parents[2] / "fixtures" / "tables"
SIGNS = {"v": "down", "^": "up"}


def rows(name: str) -> list[dict[str, str]]:
    """A published table."""
    with (TABLES / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


LETTERS = [
    Case({int(row["lot_from"]), int(row["lot_to"] or 10**7)}, {level: row[level] for level in LEVELS})
    for row in rows("mil_std_105e_table_I_code_letters.csv")
]


def letters_agree(case: Case) -> None:
    """Table I: both ends of a row's lots have its letters."""
    for lot in case.given:
        assert {level: code_letter(lot, level) for level in LEVELS} == case.published, lot


MASTER = [
    Case(row["code_letter"], (int(row["sample_size"]), [row[f"AQL_{limit}"] for limit in ACCEPTANCE_LIMITS]))
    for row in rows("mil_std_105e_table_II_A_single_normal.csv")
]


def masters_agree(case: Case) -> None:
    """Table II-A: a sample size, then accept/reject or an arrow for each limit."""
    cells = PLANS[case.given].split()
    own = [SIGNS.get(cell, f"{cell}/{int(cell) + 1 if cell.isdecimal() else ''}") for cell in cells]
    assert (SAMPLE_SIZES[case.given], own) == case.published


LOTS = [
    Case((8, "II"), "A"),
    Case((9, "II"), "B"),
    Case((1200, "II"), "J"),
    Case((1201, "II"), "K"),
    Case((3201, "III"), "M"),
    Case((500_001, "S-4"), "K"),
]


def a_lot_has_its_letter(case: Case) -> None:
    """Table I, single lots."""
    assert code_letter(*case.given) == case.published


# Letter of the lot, letter whose plan is used, pieces, accept, reject.
ARROWS = [
    Case((2000, "II", "0.65"), ("K", "K", 125, 2, 3)),  # Montgomery's example (from memory)
    Case((2400, "II", "2.5"), ("K", "K", 125, 7, 8)),
    Case((5000, "II", "2.5"), ("L", "L", 200, 10, 11)),
    Case((1200, "II", "1.0"), ("J", "J", 80, 2, 3)),
    Case((1201, "II", "1.0"), ("K", "K", 125, 3, 4)),
    Case((500, "II", "0.65"), ("H", "J", 80, 1, 2)),
    Case((280, "II", "1.5"), ("G", "G", 32, 1, 2)),
    Case((100, "II", "1.0"), ("F", "E", 13, 0, 1)),
    Case((90, "S-2", "4.0"), ("B", "B", 3, 0, 1)),
    Case((35_000, "II", "4.0"), ("M", "M", 315, 21, 22)),
]


def plans_agree(case: Case) -> None:
    """Tables I and II-A, arrows followed."""
    found = single_plan(*case.given)
    assert (found.letter, found.used_letter, found.size, found.accept, found.reject) == case.published


# Hilliard, samplingplans.com, 7 Feb 2006: n = 68, c = 2; binomial. Printed: the shares of bad pieces.
POINTS = [Case((68, 2, 0.95), 0.01213, within=3e-6), Case((68, 2, 0.05), 0.089704, within=3e-6)]


def points_agree(case: Case) -> None:
    """The share of bad pieces at which the plan accepts with the given chance, by halving."""
    size, accept, chance = case.given
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        accepts = acceptance_probability(SamplingPlan(size, accept), middle) > chance
        low, high = (middle, high) if accepts else (low, middle)
    assert abs(low - case.published) <= case.within


# NIST/SEMATECH e-Handbook 6.2.3.2: n = 52, c = 3 (it prints 0.845 and 0.739 in places four and five, memory).
HANDBOOK = [0.998, 0.98, 0.93, 0.846, 0.738, 0.62, 0.502, 0.394, 0.3, 0.223, 0.162, 0.115]
# Krajewski and Ritzman, Operations Management, supplement J: n = 180, c = 9; the binomial differs.
SUPPLEMENT_J = [1.0, 0.996, 0.951, 0.81, 0.587, 0.363, 0.194, 0.092, 0.039, 0.015]
CURVES = [
    *(Case((52, 3, share / 100, "binomial"), value, within=0.0015) for share, value in enumerate(HANDBOOK, 1)),
    *(Case((180, 9, share / 100, "poisson"), value, within=6e-4) for share, value in enumerate(SUPPLEMENT_J, 1)),
    Case((180, 9, 0.03, "binomial"), 0.9539, within=1e-4),  # computed twice, not printed
    Case((180, 9, 0.08, "binomial"), 0.0828, within=1e-4),
    # Birolini, Reliability Engineering (2007), 7.1: c = 1, 10 % risk, m = 3.9 (3.8897).
    Case((1000, 1, 3.8897 / 1000, "poisson"), 0.1, within=1e-5),
]


def curves_agree(case: Case) -> None:
    """The chance that a lot with so many bad pieces is accepted, by the named model."""
    size, accept, share, model = case.given
    assert abs(acceptance_probability(SamplingPlan(size, accept), share, model=model) - case.published) <= case.within


# n = ln(1 - C) / ln(R), rounded up: 2995 and the series 14, 29, 59, 299 read, 22 computed ("Sample size required for
# no failures", documentation of the Python library reliability). Birolini, 7.1: n = 195 at 2 %, c = 1.
SIZES = [
    Case((0, 0.05, 0.1, "binomial"), 29),
    Case((0, 0.05, 0.05, "binomial"), 59),
    Case((0, 0.05, 0.01, "binomial"), 299),
    Case((0, 0.1, 0.1, "binomial"), 22),
    Case((0, 0.05, 0.2, "binomial"), 14),
    Case((0, 0.05, 0.001, "binomial"), 2995),
    Case((1, 0.1, 0.02, "poisson"), 195),
]


def sizes_agree(case: Case) -> None:
    """The published size is the first that accepts such a lot no more often than the risk allows."""
    accept, risk, share, model = case.given
    first, before = (
        acceptance_probability(SamplingPlan(size, accept), share, model=model)
        for size in (case.published, case.published - 1)
    )
    assert first <= risk < before


# 7 CFR 42.109, Table I (US Department of Agriculture): sample size and limit, then the accept number.
CONTAINERS = [
    Case((size, limit), accept)
    for limit, accepts in (("0.25", (0, 1, 2, 3, 4)), ("1.5", (3, 5, 8, 12, 18)), ("6.5", (9, 16, 28, 42, 64)))
    for size, accept in zip((84, 168, 315, 500, 800), accepts, strict=True)
]


def containers_agree(case: Case) -> None:
    """Each of the fifteen accept numbers is the largest at which a lot just at the limit is rejected at least 35 times
    in 1,000 (binomial): a regularity that we found in the table, not one that it states. One piece more or less
    breaks it."""
    size, limit = case.given
    share = float(limit) / 100
    assert acceptance_probability(SamplingPlan(size, case.published), share) <= 0.965
    assert acceptance_probability(SamplingPlan(size, case.published + 1), share) > 0.965


PUBLISHED: dict[str, tuple[list[Case], Check]] = {
    "code letters": (LETTERS, letters_agree),
    "master table": (MASTER, masters_agree),
    "letters of lots": (LOTS, a_lot_has_its_letter),
    "plans with and without arrows": (ARROWS, plans_agree),
    "points of producer and consumer": (POINTS, points_agree),
    "curves": (CURVES, curves_agree),
    "sizes for a risk": (SIZES, sizes_agree),
    "stationary lots of containers": (CONTAINERS, containers_agree),
}


@pytest.mark.parametrize("title", PUBLISHED)
def test_sampling_is_as_published(title: str) -> None:
    cases, check = PUBLISHED[title]
    for case in cases:
        check(case)


def test_the_tables_are_whole() -> None:
    assert len(LETTERS) == len(CODE_LETTERS) == 15
    assert len(MASTER) == len(SAMPLE_SIZES) == 16


def test_a_limit_is_found_however_it_is_written() -> None:
    assert [acceptance_limit(text) for text in ("1", "1.0", "0,65", " 4 ", "3")] == ["1.0", "1.0", "0.65", "4.0", None]
