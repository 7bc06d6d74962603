"""Every check against published figures can fail: each figure is tried once with another in its place."""

from __future__ import annotations

import importlib
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from tests.outside.altered import Case, Check, alterations, altered


def tables() -> list[tuple[str, Sequence[Case], Check]]:
    """Every table of published figures of this folder."""
    found = []
    for path in sorted(Path(__file__).parent.glob("test_*.py")):
        published = getattr(importlib.import_module(f"tests.outside.{path.stem}"), "PUBLISHED", {})
        found += [(f"{path.stem}: {title}", cases, check) for title, (cases, check) in published.items()]
    return found


@pytest.mark.long
@pytest.mark.parametrize(("cases", "check"), [pytest.param(*rest, id=title) for title, *rest in tables()])
def test_no_published_figure_could_be_another(cases: Sequence[Case], check: Check) -> None:
    assert altered(cases, check) >= len(cases)


def test_a_check_that_only_hands_back_what_was_put_in_is_found() -> None:
    def tautology(case: Case) -> None:
        assert case.published == case.published

    with pytest.raises(AssertionError, match="takes 3 for 2 as well"):
        altered([Case(1, 2)], tautology)


def test_a_tolerance_wider_than_the_cases_own_is_found() -> None:
    def loose(case: Case) -> None:
        assert abs(case.given - case.published) <= 0.1

    with pytest.raises(AssertionError, match="as well"):
        altered([Case(1.0, 1.0, within=0.01)], loose)
    assert altered([Case(1.0, 1.0, within=0.1)], loose) == 2


def test_a_case_that_publishes_nothing_is_found() -> None:
    with pytest.raises(AssertionError, match="nothing is published"):
        altered([Case(1, ())], lambda case: None)


def test_a_check_that_fails_as_it_stands_is_found() -> None:
    def wrong(case: Case) -> None:
        assert case.given == case.published

    with pytest.raises(AssertionError):
        altered([Case(1, 2)], wrong)


def test_what_is_altered_is_one_figure_at_a_time() -> None:
    assert list(alterations(3)) == [4, 2]
    assert list(alterations(0.25)) == [0.26, 0.24]
    assert list(alterations(Decimal("453.592"))) == [Decimal("453.593"), Decimal("453.591")]
    assert list(alterations(Fraction(1, 2))) == [Fraction(1000001, 2 * 10**6), Fraction(999999, 2 * 10**6)]
    assert list(alterations(2.0, within=0.5)) == [3.005, 0.995]
    assert list(alterations(date(2026, 1, 19))) == [date(2026, 1, 20), date(2026, 1, 18)]
    assert list(alterations((1, "K"))) == [(2, "K"), (0, "K"), (1, "K?")]
    assert list(alterations({7: 20})) == [{7: 21}, {7: 19}, {8: 20}, {6: 20}]
    assert list(alterations([True])) == [[False]]
