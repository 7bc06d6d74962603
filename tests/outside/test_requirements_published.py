"""Requirements planning against published exercises; figures are copied, conventions are the textbooks'."""

from __future__ import annotations

import pytest

from tests.outside.altered import Case, Check
from traveller.rules.netting import NeedPerThousand
from traveller.rules.requirements import LotRule, PlannedPart, requirements

Bill = dict[str, dict[str, int]]


def bills_of(bill: Bill) -> dict[str, list[NeedPerThousand]]:
    return {part: [NeedPerThousand(name, 1000 * each) for name, each in lines.items()] for part, lines in bill.items()}


def rows(*figures: str) -> tuple[list[int], ...]:
    """Gross needs, net needs, planned receipts and what is on hand at the end, period by period."""
    return tuple([int(figure) for figure in row.split()] for row in figures)


# Exercise "A of 1 B, 2 C, 1 D" (edu.com homework helper, question 829356): all planned releases stand in the worked
# answer; the other rows were computed from them.
FIVE_ITEMS = Case(
    (
        {
            "A": PlannedPart(20, {}, 1),
            "B": PlannedPart(0, {1: 10}, 1),
            "C": PlannedPart(10, {1: 50}, 1, LotRule("minimum", 50)),
            "D": PlannedPart(20, {}, 2, LotRule("multiple", 100)),
            "E": PlannedPart(10, {}, 2, LotRule("multiple", 50)),
        },
        {"A": {"B": 1, "C": 2, "D": 1}, "C": {"D": 2, "E": 3}},
        {"A": {2: 30, 5: 30, 8: 40}},
        8,
    ),
    (
        {
            "A": {1: 10, 4: 30, 7: 40},
            "B": {3: 30, 6: 40},
            "C": {3: 50, 6: 50},
            "D": {1: 100, 2: 100, 4: 100},
            "E": {1: 150, 4: 150},
        },
        {
            "A": rows("0 30 0 0 30 0 0 40", "0 10 0 0 30 0 0 40", "0 10 0 0 30 0 0 40", "20 0 0 0 0 0 0 0"),
            "B": rows("10 0 0 30 0 0 40 0", "0 0 0 30 0 0 40 0", "0 0 0 30 0 0 40 0", "0 0 0 0 0 0 0 0"),
            "C": rows("20 0 0 60 0 0 80 0", "0 0 0 20 0 0 50 0", "0 0 0 50 0 0 50 0", "40 40 40 30 30 30 0 0"),
            "D": rows(
                "10 0 100 30 0 100 40 0", "0 0 90 20 0 20 0 0", "0 0 100 100 0 100 0 0", "10 10 10 80 80 80 40 40"
            ),
            "E": rows("0 0 150 0 0 150 0 0", "0 0 140 0 0 140 0 0", "0 0 150 0 0 150 0 0", "10 10 10 10 10 10 10 10"),
        },
    ),
)
# F. R. Jacobs, R. B. Chase, Operations and Supply Chain Management (McGraw-Hill), exercises of the chapter on material
# requirements planning: the text was read, the answer computed.
SHARED = Case(
    (
        {
            "A": PlannedPart(0, {}, 1),
            "B": PlannedPart(0, {}, 2),
            "C": PlannedPart(10, {}, 1),
            "E": PlannedPart(0, {2: 20}, 2, LotRule("multiple", 60)),
            "D": PlannedPart(50, {}, 1),
            "F": PlannedPart(0, {}, 1, LotRule("multiple", 200)),
        },
        {"A": {"B": 2, "C": 3, "D": 2}, "B": {"E": 1, "F": 2}, "C": {"F": 2, "D": 1}, "E": {"D": 2}},
        {"A": {8: 20}},
        8,
    ),
    (
        {"A": {7: 20}, "B": {5: 40}, "C": {6: 50}, "E": {3: 60}, "D": {2: 70, 5: 50, 6: 40}, "F": {4: 200}},
        {
            "A": rows("0 0 0 0 0 0 0 20", "0 0 0 0 0 0 0 20", "0 0 0 0 0 0 0 20", "0 0 0 0 0 0 0 0"),
            "B": rows("0 0 0 0 0 0 40 0", "0 0 0 0 0 0 40 0", "0 0 0 0 0 0 40 0", "0 0 0 0 0 0 0 0"),
            "C": rows("0 0 0 0 0 0 60 0", "0 0 0 0 0 0 50 0", "0 0 0 0 0 0 50 0", "10 10 10 10 10 10 0 0"),
            "E": rows("0 0 0 0 40 0 0 0", "0 0 0 0 20 0 0 0", "0 0 0 0 60 0 0 0", "0 20 20 20 40 40 40 40"),
            "D": rows("0 0 120 0 0 50 40 0", "0 0 70 0 0 50 40 0", "0 0 70 0 0 50 40 0", "50 50 0 0 0 0 0 0"),
            "F": rows("0 0 0 0 80 100 0 0", "0 0 0 0 80 0 0 0", "0 0 0 0 200 0 0 0", "0 0 0 0 120 20 20 20"),
        },
    ),
)
# Exercise "product Z, 59 units in period 10" (tutorsglobe.com, question 557214): the text was read, the answer computed
# by hand.
EXPLOSION = Case(
    (
        {
            "Z": PlannedPart(0, {}, 2),
            "A": PlannedPart(0, {}, 1),
            "B": PlannedPart(0, {}, 1),
            "C": PlannedPart(0, {}, 1),
            "D": PlannedPart(0, {}, 1),
            "E": PlannedPart(0, {}, 3),
        },
        {"Z": {"A": 2, "B": 3}, "A": {"C": 4, "D": 4}, "D": {"E": 2}},
        {"Z": {10: 59}},
        10,
    ),
    (
        {"Z": {8: 59}, "A": {7: 118}, "B": {7: 177}, "C": {6: 472}, "D": {6: 472}, "E": {3: 944}},
        {
            "Z": rows("0 0 0 0 0 0 0 0 0 59", "0 0 0 0 0 0 0 0 0 59", "0 0 0 0 0 0 0 0 0 59", "0 0 0 0 0 0 0 0 0 0"),
            "A": rows("0 0 0 0 0 0 0 118 0 0", "0 0 0 0 0 0 0 118 0 0", "0 0 0 0 0 0 0 118 0 0", "0 0 0 0 0 0 0 0 0 0"),
            "B": rows("0 0 0 0 0 0 0 177 0 0", "0 0 0 0 0 0 0 177 0 0", "0 0 0 0 0 0 0 177 0 0", "0 0 0 0 0 0 0 0 0 0"),
            "C": rows("0 0 0 0 0 0 472 0 0 0", "0 0 0 0 0 0 472 0 0 0", "0 0 0 0 0 0 472 0 0 0", "0 0 0 0 0 0 0 0 0 0"),
            "D": rows("0 0 0 0 0 0 472 0 0 0", "0 0 0 0 0 0 472 0 0 0", "0 0 0 0 0 0 472 0 0 0", "0 0 0 0 0 0 0 0 0 0"),
            "E": rows("0 0 0 0 0 944 0 0 0 0", "0 0 0 0 0 944 0 0 0 0", "0 0 0 0 0 944 0 0 0 0", "0 0 0 0 0 0 0 0 0 0"),
        },
    ),
)


def plans_agree(case: Case) -> None:
    """Releases by part and period, then every row of every part."""
    parts, bill, demand, periods = case.given
    releases, published = case.published
    plans = requirements(parts, bills_of(bill), demand, periods)
    assert {part: plan.releases for part, plan in plans.items()} == releases
    own = {
        part: tuple(list(row) for row in (plan.gross, plan.net, plan.planned_receipts, plan.on_hand_end))
        for part, plan in plans.items()
    }
    assert own == published


PUBLISHED: dict[str, tuple[list[Case], Check]] = {
    "five items with a minimum lot and multiples": ([FIVE_ITEMS], plans_agree),
    "two items that are shared": ([SHARED], plans_agree),
    "a pure explosion with lead times": ([EXPLOSION], plans_agree),
}


@pytest.mark.parametrize("title", PUBLISHED)
def test_requirements_are_as_published(title: str) -> None:
    cases, check = PUBLISHED[title]
    for case in cases:
        check(case)
