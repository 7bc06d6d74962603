"""The other system's limit: right where a handbook has the pair, and never wider than the limit itself."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from traveller.rules.checks.limits import in_unit
from traveller.rules.other_units import other_limit, other_unit, system_of

# Exact pairs: 0 C = 32 F, 100 C = 212 F, -40 C = -40 F; 25.4 mm = 1 in (1959). 160 C = 320 F and 120 C = 248 F are
# usual settings of moulds and dryers, here computed by hand from F = 1.8 C + 32.
PAIRS = [
    ("0", "C", "32", "F"),
    ("100", "C", "212", "F"),
    ("-40", "C", "-40", "F"),
    ("160", "C", "320", "F"),
    ("120", "C", "248", "F"),
    ("25.4", "mm", "1", "in"),
    ("1", "in", "25.4", "mm"),
    ("320", "F", "160", "C"),
]


@pytest.mark.parametrize(("number", "unit", "other", "named"), PAIRS)
def test_a_limit_is_the_one_that_everybody_knows(number: str, unit: str, other: str, named: str) -> None:
    found = other_limit("limit.at_most", {"most": number, "unit": unit})
    assert found == ("limit.at_most", {"most": other, "unit": named})


def test_a_tolerance_becomes_two_bounds_inside_its_own() -> None:
    # 25.40 +/- 0.05 mm is 0.99803... to 1.00196... inch.
    figures = {"nominal": "25.40", "tolerance": "0.05", "low": "25.35", "high": "25.45", "unit": "mm"}
    assert other_limit("limit.tolerance", figures) == (
        "limit.between",
        {"least": "0.99804", "most": "1.00196", "unit": "in"},
    )


# What a bench in inches and degrees F reads beside a limit in mm, g or C: to 0.0005 in, 0.5 F, 0.05 oz, 0.5 lbf in.
@pytest.mark.parametrize(
    ("most", "unit", "step"),
    [("51", "mm", "0.0005"), ("2.5", "mm", "0.0005"), ("26", "C", "0.5"), ("165", "F", "0.1"), ("40", "g", "0.05"),
     ("5", "kg", "0.1"), ("3", "m", "0.1"), ("2", "N m", "0.5"), ("12", "lbf in", "0.01"), ("7", "lb", "0.02")],
)  # fmt: skip
def test_no_reading_of_a_bench_lies_between_the_limit_shown_and_the_limit_judged(
    most: str, unit: str, step: str
) -> None:
    found = other_limit("limit.at_most", {"most": most, "unit": unit})
    assert found is not None
    shown, other = Decimal(str(found[1]["most"])), str(found[1]["unit"])
    exact = in_unit(Decimal(most), unit, other)
    assert exact is not None
    for reading in (
        Fraction(step) * n for n in range(int(exact / Fraction(step)) - 3, int(exact / Fraction(step)) + 4)
    ):
        assert (reading <= Fraction(shown)) == (reading <= exact)


def test_a_soak_keeps_its_minutes_and_turns_its_degrees() -> None:
    found = other_limit("limit.soak", {"least": "30", "unit": "min", "hot": "75", "degrees": "C"})
    assert found == ("limit.soak", {"least": "30", "unit": "min", "hot": "167", "degrees": "F"})


@pytest.mark.parametrize(
    ("code", "unit"), [("limit.at_least", "min"), ("limit.at_least", "Shore A"), ("limit.age", "C")]
)
def test_what_has_no_counterpart_is_left_alone(code: str, unit: str) -> None:
    assert other_limit(code, {"least": "1", "unit": unit}) is None


def test_each_unit_s_counterpart_is_of_the_other_system() -> None:
    for unit in ("C", "mm", "cm", "m", "g", "kg", "F", "in", "mil", "ft", "oz", "lb"):
        other = other_unit(unit)
        assert other is not None and {system_of(unit), system_of(other)} == {"metric", "inch_pound"}
    assert (system_of("min"), other_unit("%")) == (None, None)


@settings(max_examples=150)
@given(
    st.decimals(-300, 600, places=2),
    st.decimals(0, 50, places=2),
    st.sampled_from(["C", "mm", "g", "kg", "F", "in", "oz", "lb"]),
)
def test_no_value_passes_the_converted_limit_that_fails_the_limit_itself(
    low: Decimal, width: Decimal, unit: str
) -> None:
    high = low + width
    found = other_limit("limit.between", {"least": str(low), "most": str(high), "unit": unit})
    if found is None:
        return
    _, shown = found
    for name in ("least", "most"):
        back = in_unit(Decimal(str(shown[name])), str(shown["unit"]), unit)
        assert back is not None and Fraction(low) <= back <= Fraction(high)
