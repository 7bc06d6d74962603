"""Requirements over time: the balance never falls below zero, and lot rules keep their word."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.netting import NeedPerThousand
from traveller.rules.requirements import LotRule, PlannedPart, requirements

PERIODS = 8
rules = st.one_of(
    st.just(LotRule()),
    st.builds(LotRule, st.sampled_from(("minimum", "multiple", "fixed")), st.integers(1, 300)),
    st.builds(LotRule, st.just("period"), st.integers(1, 5)),
)
by_period = st.dictionaries(st.integers(1, PERIODS), st.integers(0, 200))
parts = st.builds(
    PlannedPart, on_hand=st.integers(0, 100), receipts=by_period, lead_periods=st.integers(0, 3), rule=rules
)


@given(parts, by_period)
def test_every_row_balances_and_none_falls_below_zero(part: PlannedPart, demand: dict[int, int]) -> None:
    plan = requirements({"foot": part}, {}, {"foot": demand}, PERIODS)["foot"]
    before = part.on_hand
    for index in range(PERIODS):
        available = before + part.receipts.get(index + 1, 0)
        assert plan.net[index] == max(0, plan.gross[index] - available)
        assert plan.on_hand_end[index] == available + plan.planned_receipts[index] - plan.gross[index] >= 0
        assert (plan.planned_receipts[index] > 0) == (plan.net[index] > 0)
        assert plan.planned_receipts[index] >= plan.net[index]
        before = plan.on_hand_end[index]
    assert sum(plan.releases.values()) == sum(plan.planned_receipts)


@given(parts, by_period)
def test_each_lot_keeps_its_rule(part: PlannedPart, demand: dict[int, int]) -> None:
    plan = requirements({"foot": part}, {}, {"foot": demand}, PERIODS)["foot"]
    for need, ordered in zip(plan.net, plan.planned_receipts, strict=True):
        if ordered and part.rule.kind == "as_needed":
            assert ordered == need
        if ordered and part.rule.kind == "minimum":
            assert ordered == max(need, part.rule.size)
        if ordered and part.rule.kind in ("multiple", "fixed"):
            assert ordered % part.rule.size == 0
            assert ordered - part.rule.size < need


@given(st.integers(0, 100), by_period, by_period, st.integers(1, 5))
def test_a_period_lot_leaves_no_need_in_the_periods_it_covers(
    on_hand: int, receipts: dict[int, int], demand: dict[int, int], span: int
) -> None:
    part = PlannedPart(on_hand, receipts, 0, LotRule("period", span))
    plan = requirements({"foot": part}, {}, {"foot": demand}, PERIODS)["foot"]
    for index, ordered in enumerate(plan.planned_receipts):
        if ordered:
            assert not any(plan.planned_receipts[index + 1 : index + span])


def test_a_period_lot_orders_no_more_than_its_periods_need() -> None:
    part = PlannedPart(on_hand=5, receipts={3: 10}, rule=LotRule("period", 3))
    plan = requirements({"foot": part}, {}, {"foot": {1: 10, 2: 4, 3: 20, 4: 6}}, 4)["foot"]
    assert plan.planned_receipts == (19, 0, 0, 6)


def test_components_are_needed_when_their_parent_is_released() -> None:
    known = {"lantern": PlannedPart(lead_periods=2), "foot": PlannedPart(lead_periods=1)}
    plans = requirements(known, {"lantern": [NeedPerThousand("foot", 1000)]}, {"lantern": {5: 9}, "foot": {3: 1}}, 5)
    assert plans["lantern"].releases == {3: 9}
    assert plans["foot"].gross == (0, 0, 10, 0, 0)
    assert plans["foot"].releases == {2: 10}


def test_a_release_before_the_first_period_is_late_and_its_components_are_needed_at_once() -> None:
    known = {"lantern": PlannedPart(lead_periods=3)}
    plans = requirements(known, {"lantern": [NeedPerThousand("ink", 250)]}, {"lantern": {1: 9, 2: 5}}, 3)
    assert plans["lantern"].late_releases == {-2: 9, -1: 5}
    assert plans["ink"].gross == (3 + 2, 0, 0)
    assert plans["ink"].late_releases == {}


def test_fixed_lots_are_counted_apart() -> None:
    assert LotRule("fixed", 40).lots(120) == 3
    assert LotRule("multiple", 40).lots(120) == 1


def test_a_demand_outside_the_plan_and_a_rule_without_size_are_faults() -> None:
    with pytest.raises(ValueError, match=r"outside 1\.\.4"):
        requirements({}, {}, {"foot": {5: 1}}, 4)
    with pytest.raises(ValueError, match="at least 1"):
        LotRule("minimum", 0)
