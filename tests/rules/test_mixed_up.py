"""Another unit is asked for only where it alone puts the number between its limits."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.checks.limits import in_unit
from traveller.rules.mixed_up import meant_unit


@pytest.mark.parametrize(
    ("value", "unit", "low", "high", "own", "meant"),
    [
        ("350", "C", "160", "180", "C", "F"),
        ("85", "F", "80", "95", "C", "C"),
        ("2.001", "mm", "50.673", "50.927", "mm", "in"),
        ("50.8", "in", "50.673", "50.927", "mm", "mm"),
        ("0.5", "min", "20", "60", "min", "h"),
        ("0.412", "g", "400", "420", "g", "kg"),
        # Inside as it was typed: the limits themselves are inside.
        ("160", "C", "160", "180", "C", None),
        ("180", "C", "160", "180", "C", None),
        # Wrong in every unit, and units that have no neighbour.
        ("220", "C", "160", "180", "C", None),
        ("48", "Shore A", "50", "60", "Shore A", None),
        ("3", "", "50", "60", "", None),
    ],
)
def test_a_slip_by_a_factor(value: str, unit: str, low: str, high: str, own: str, meant: str | None) -> None:
    assert meant_unit(Decimal(value), unit, Fraction(low), Fraction(high), own) == meant


@given(
    st.decimals(-500, 5000, places=2),
    st.sampled_from(["C", "F"]),
    st.integers(-50, 400),
    st.integers(1, 100),
)
def test_what_is_asked_for_would_be_inside_and_what_was_typed_is_not(
    value: Decimal, unit: str, low: int, wide: int
) -> None:
    meant = meant_unit(value, unit, Fraction(low), Fraction(low + wide), "C")
    typed = in_unit(value, unit, "C")
    assert typed is not None
    if meant is None:
        return
    other = in_unit(value, meant, "C")
    assert other is not None and low <= other <= low + wide and not low <= typed <= low + wide
