"""Checks against published figures; the source stands beside each.

Length: 16 CFR 500.19(a) and NIST SP 811 (2008), appendix B: 1 inch = 25.4 mm, marked exact.
Temperature: C = (F - 32) 5/9; pairs to 0.01 C, of which 77 F = 25 C and -40 F = -40 C stand in data sheets.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from tests.rules.checks.evidence import parsed, read, with_readings
from traveller.rules.checks import dimension, reading
from traveller.rules.checks.limits import in_unit


@pytest.mark.parametrize(
    ("tolerance_in", "tolerance_mm"), [("0.005", "0.127"), ("0.001", "0.0254"), ("0.0005", "0.0127")]
)
def test_a_tolerance_in_inches_is_the_published_one_in_millimetres(tolerance_in: str, tolerance_mm: str) -> None:
    """Plus-minus 0.005 inch for a part whose function dies beyond it: common practice, no source."""
    raw = {"nominal": "1", "tolerance": tolerance_in, "unit": "in"}
    limits = dimension.limits_in(parsed(dimension.KIND.parse(raw)), "mm")
    assert limits is not None and limits.least is not None and limits.most is not None
    assert limits.most - Decimal("25.4") == Decimal(tolerance_mm) == Decimal("25.4") - limits.least


@pytest.mark.parametrize(("measured", "outcome"), [("0.127", "passed"), ("0.12701", "failed")])
def test_a_micrometre_gauge_finds_the_same_edge(measured: str, outcome: str) -> None:
    raw = {"name": "d", "nominal": "1", "tolerance": "0.005", "unit": "in"}
    params = parsed(dimension.KIND.parse(raw))
    for value in (Decimal("25.4") + Decimal(measured), Decimal("25.4") - Decimal(measured)):
        assert dimension.judge(params, with_readings(read("d", str(value), "mm"))).step.outcome == outcome


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [(-40, "-40"), (32, "0"), (77, "25"), (180, "82.22"), (190, "87.78"), (250, "121.11"), (340, "171.11")],
)
def test_temperatures_agree_with_the_published_pairs(fahrenheit: int, celsius: str) -> None:
    found = in_unit(Decimal(fahrenheit), "F", "C")
    assert found is not None and abs(found - Fraction(celsius)) < Fraction(1, 100)
    # The same pair through a check: a hundredth of a degree to either side of the reading.
    around = {
        "name": "t",
        "unit": "C",
        "least": str(Decimal(celsius) - Decimal("0.01")),
        "most": str(Decimal(celsius) + Decimal("0.01")),
    }
    verdict = reading.judge(parsed(reading.KIND.parse(around)), with_readings(read("t", str(fahrenheit), "F")))
    assert verdict.step.outcome == "passed"
