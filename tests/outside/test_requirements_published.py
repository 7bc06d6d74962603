"""Requirements planning against published exercises; figures are copied, conventions are the textbooks'."""

from __future__ import annotations

from traveller.rules.netting import NeedPerThousand
from traveller.rules.requirements import LotRule, PlannedPart, requirements

Bill = dict[str, dict[str, int]]


def bills_of(bill: Bill) -> dict[str, list[NeedPerThousand]]:
    return {part: [NeedPerThousand(name, 1000 * each) for name, each in lines.items()] for part, lines in bill.items()}


def test_five_items_with_a_minimum_lot_and_multiples() -> None:
    # Exercise "A of 1 B, 2 C, 1 D" (edu.com homework helper, question 829356): all planned releases stand in
    # the worked answer; the other rows were computed from them.
    parts = {
        "A": PlannedPart(20, {}, 1),
        "B": PlannedPart(0, {1: 10}, 1),
        "C": PlannedPart(10, {1: 50}, 1, LotRule("minimum", 50)),
        "D": PlannedPart(20, {}, 2, LotRule("multiple", 100)),
        "E": PlannedPart(10, {}, 2, LotRule("multiple", 50)),
    }
    bills = bills_of({"A": {"B": 1, "C": 2, "D": 1}, "C": {"D": 2, "E": 3}})
    plans = requirements(parts, bills, {"A": {2: 30, 5: 30, 8: 40}}, 8)
    assert {part: plan.releases for part, plan in plans.items()} == {
        "A": {1: 10, 4: 30, 7: 40},
        "B": {3: 30, 6: 40},
        "C": {3: 50, 6: 50},
        "D": {1: 100, 2: 100, 4: 100},
        "E": {1: 150, 4: 150},
    }
    assert plans["A"].net == (0, 10, 0, 0, 30, 0, 0, 40)
    assert plans["B"].gross == (10, 0, 0, 30, 0, 0, 40, 0)
    assert plans["C"].gross == (20, 0, 0, 60, 0, 0, 80, 0)
    assert plans["C"].net == (0, 0, 0, 20, 0, 0, 50, 0)
    assert plans["C"].on_hand_end == (40, 40, 40, 30, 30, 30, 0, 0)
    assert plans["D"].gross == (10, 0, 100, 30, 0, 100, 40, 0)
    assert plans["D"].net == (0, 0, 90, 20, 0, 20, 0, 0)
    assert plans["D"].planned_receipts == (0, 0, 100, 100, 0, 100, 0, 0)
    assert plans["D"].on_hand_end == (10, 10, 10, 80, 80, 80, 40, 40)
    assert plans["E"].gross == (0, 0, 150, 0, 0, 150, 0, 0)
    assert plans["E"].net == (0, 0, 140, 0, 0, 140, 0, 0)
    assert plans["E"].on_hand_end == (10,) * 8


def test_low_level_codes_when_two_items_are_shared() -> None:
    # F. R. Jacobs, R. B. Chase, Operations and Supply Chain Management (McGraw-Hill), exercises of
    # the chapter on material requirements planning: the text was read, the answer computed.
    parts = {
        "A": PlannedPart(0, {}, 1),
        "B": PlannedPart(0, {}, 2),
        "C": PlannedPart(10, {}, 1),
        "D": PlannedPart(50, {}, 1),
        "E": PlannedPart(0, {2: 20}, 2, LotRule("multiple", 60)),
        "F": PlannedPart(0, {}, 1, LotRule("multiple", 200)),
    }
    bills = bills_of({"A": {"B": 2, "C": 3, "D": 2}, "B": {"E": 1, "F": 2}, "C": {"F": 2, "D": 1}, "E": {"D": 2}})
    plans = requirements(parts, bills, {"A": {8: 20}}, 8)
    assert {part: plan.releases for part, plan in plans.items()} == {
        "A": {7: 20},
        "B": {5: 40},
        "C": {6: 50},
        "E": {3: 60},
        "D": {2: 70, 5: 50, 6: 40},
        "F": {4: 200},
    }
    assert plans["C"].net == (0, 0, 0, 0, 0, 0, 50, 0)
    assert plans["D"].gross == (0, 0, 120, 0, 0, 50, 40, 0)
    assert plans["D"].on_hand_end == (50, 50, 0, 0, 0, 0, 0, 0)
    assert plans["E"].on_hand_end == (0, 20, 20, 20, 40, 40, 40, 40)
    assert plans["F"].gross == (0, 0, 0, 0, 80, 100, 0, 0)
    assert plans["F"].on_hand_end == (0, 0, 0, 0, 120, 20, 20, 20)


def test_a_pure_explosion_with_lead_times() -> None:
    # Exercise "product Z, 59 units in period 10" (tutorsglobe.com, question 557214): the text was read, the
    # answer computed by hand.
    lead = {"Z": 2, "A": 1, "B": 1, "C": 1, "D": 1, "E": 3}
    parts = {part: PlannedPart(lead_periods=periods) for part, periods in lead.items()}
    bills = bills_of({"Z": {"A": 2, "B": 3}, "A": {"C": 4, "D": 4}, "D": {"E": 2}})
    plans = requirements(parts, bills, {"Z": {10: 59}}, 10)
    assert {part: plan.releases for part, plan in plans.items()} == {
        "Z": {8: 59},
        "A": {7: 118},
        "B": {7: 177},
        "C": {6: 472},
        "D": {6: 472},
        "E": {3: 944},
    }
    assert all(not any(plan.on_hand_end) for plan in plans.values())
