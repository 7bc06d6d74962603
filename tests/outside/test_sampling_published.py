"""Sampling plans against MIL-STD-105E (10 May 1989, a work of the United States government) and other prints."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from tests.rules.checks.evidence import good, parsed, read, with_readings
from traveller.rules.checks import sample
from traveller.rules.sampling import (
    SamplingPlan,
    acceptance_limit,
    acceptance_probability,
    code_letter,
    single_plan,
)
from traveller.rules.sampling_tables import ACCEPTANCE_LIMITS, CODE_LETTERS, LEVELS, PLANS, SAMPLE_SIZES

TABLES = Path(__file__).parents[2] / "fixtures" / "tables"


def rows(name: str) -> list[dict[str, str]]:
    """A published table."""
    with (TABLES / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_the_code_letters_are_table_one() -> None:
    published = rows("mil_std_105e_table_I_code_letters.csv")
    assert len(published) == len(CODE_LETTERS) == 15
    for row in published:
        for level in LEVELS:
            for lot in {int(row["lot_from"]), int(row["lot_to"] or 10**7)}:
                assert code_letter(lot, level) == row[level], (lot, level)


def test_the_plans_are_table_two_a() -> None:
    published = rows("mil_std_105e_table_II_A_single_normal.csv")
    assert len(published) == 16
    signs = {"v": "down", "^": "up"}
    for row in published:
        letter = row["code_letter"]
        assert SAMPLE_SIZES[letter] == int(row["sample_size"])
        own = [signs.get(cell, f"{cell}/{int(cell) + 1 if cell.isdecimal() else ''}") for cell in PLANS[letter].split()]
        assert own == [row[f"AQL_{limit}"] for limit in ACCEPTANCE_LIMITS]


@pytest.mark.parametrize(
    ("lot", "level", "letter"),
    [(8, "II", "A"), (9, "II", "B"), (1200, "II", "J"), (1201, "II", "K"), (3201, "III", "M"), (500_001, "S-4", "K")],
)
def test_a_lot_has_its_letter(lot: int, level: str, letter: str) -> None:
    assert code_letter(lot, level) == letter


@pytest.mark.parametrize(
    ("lot", "level", "limit", "letter", "used", "size", "accept"),
    [
        (2000, "II", "0.65", "K", "K", 125, 2),  # Montgomery's example (from memory)
        (2400, "II", "2.5", "K", "K", 125, 7),
        (5000, "II", "2.5", "L", "L", 200, 10),
        (1200, "II", "1.0", "J", "J", 80, 2),
        (1201, "II", "1.0", "K", "K", 125, 3),
        (500, "II", "0.65", "H", "J", 80, 1),
        (280, "II", "1.5", "G", "G", 32, 1),
        (100, "II", "1.0", "F", "E", 13, 0),
        (90, "S-2", "4.0", "B", "B", 3, 0),
        (35_000, "II", "4.0", "M", "M", 315, 21),
    ],
)
def test_plans_with_and_without_arrows(
    lot: int, level: str, limit: str, letter: str, used: str, size: int, accept: int
) -> None:
    found = single_plan(lot, level, limit)
    assert found == SamplingPlan(size, accept, letter, used) and found.reject == accept + 1


def test_the_points_of_producer_and_consumer() -> None:
    """Hilliard, samplingplans.com, 7 Feb 2006: n = 68, c = 2; binomial."""
    plan = SamplingPlan(68, 2)
    assert acceptance_probability(plan, 0.01213) == pytest.approx(0.95, abs=2e-5)
    assert acceptance_probability(plan, 0.089704) == pytest.approx(0.05, abs=2e-5)


def test_the_handbooks_operating_curve() -> None:
    """NIST/SEMATECH e-Handbook 6.2.3.2: n = 52, c = 3 (it prints 0.845 and 0.739 in places four and five, memory)."""
    published = [0.998, 0.98, 0.93, 0.846, 0.738, 0.62, 0.502, 0.394, 0.3, 0.223, 0.162, 0.115]
    own = [acceptance_probability(SamplingPlan(52, 3), share / 100) for share in range(1, 13)]
    assert own == pytest.approx(published, abs=0.0015)


def test_a_poisson_curve_is_named_as_such() -> None:
    """Krajewski and Ritzman, Operations Management, supplement J: n = 180, c = 9; the binomial differs."""
    published = [1.0, 0.996, 0.951, 0.81, 0.587, 0.363, 0.194, 0.092, 0.039, 0.015]
    plan = SamplingPlan(180, 9)
    own = [acceptance_probability(plan, share / 100, model="poisson") for share in range(1, 11)]
    assert own == pytest.approx(published, abs=6e-4)
    assert acceptance_probability(plan, 0.03) == pytest.approx(0.9539, abs=1e-4)
    assert acceptance_probability(plan, 0.08) == pytest.approx(0.0828, abs=1e-4)


def test_the_mean_for_a_consumers_risk() -> None:
    """Birolini, Reliability Engineering (2007), 7.1: c = 1, 10 % risk, m = 3.9 (3.8897), n = 195 at 2 %."""
    assert acceptance_probability(SamplingPlan(1000, 1), 3.8897 / 1000, model="poisson") == pytest.approx(0.1, abs=1e-5)
    assert acceptance_probability(SamplingPlan(195, 1), 0.02, model="poisson") <= 0.1
    assert acceptance_probability(SamplingPlan(194, 1), 0.02, model="poisson") > 0.1


def test_another_family_of_plans_is_data_too() -> None:
    """7 CFR 42.109, Table I (US Department of Agriculture): given plans are judged by the same rule."""
    sizes = [84, 168, 315, 500, 800]
    for accepts in ([0, 1, 2, 3, 4], [3, 5, 8, 12, 18], [9, 16, 28, 42, 64]):
        plans = [SamplingPlan(size, accept) for size, accept in zip(sizes, accepts, strict=True)]
        assert [plan.reject for plan in plans] == [accept + 1 for accept in accepts]
        for plan in plans:
            row = {"sample": str(plan.size), "accept": str(plan.accept)}
            for bad, outcome in ((plan.accept, "passed"), (plan.accept + 1, "failed")):
                reported = (read("looked_at", str(plan.size)), read("bad", str(bad)))
                evidence = with_readings(*reported, counts=good(6000))
                assert sample.judge(parsed(sample.KIND.parse(row)), evidence).step.outcome == outcome
        # A larger sample of the same family tells good from bad lots better: it accepts bad ones more seldom.
        chances = [acceptance_probability(plan, 0.15) for plan in plans]
        assert chances == sorted(chances, reverse=True)


def test_a_limit_is_found_however_it_is_written() -> None:
    assert [acceptance_limit(text) for text in ("1", "1.0", "0,65", " 4 ", "3")] == ["1.0", "1.0", "0.65", "4.0", None]
