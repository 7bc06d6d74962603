"""What must be started in which period? Requirements over time, with lot rules and lead times.

Conventions of the textbooks: receipts already ordered arrive at the start of their period, the balance on
hand is that at its end, and a release is the planned receipt moved earlier by the lead time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from traveller.rules.netting import Bills, low_level_codes, used_by

__all__ = ["LotRule", "PartPlan", "PlannedPart", "requirements"]


@dataclass(frozen=True, slots=True)
class LotRule:
    """How a net need becomes a lot: as needed, at least size, in multiples of size, in lots of exactly
    size, or one lot for the needs of size periods."""

    kind: Literal["as_needed", "minimum", "multiple", "fixed", "period"] = "as_needed"
    size: int = 1

    def __post_init__(self) -> None:
        if self.size < 1:
            raise ValueError(f"a lot rule's size is at least 1, not {self.size}")

    def quantity(self, needed: int) -> int:
        """What is ordered for a need: never less than the need, in whole lots where the rule has a size."""
        if self.kind == "minimum":
            return max(needed, self.size)
        if self.kind in ("multiple", "fixed"):
            return -(-needed // self.size) * self.size
        return needed

    def lots(self, ordered: int) -> int:
        """Over how many separate lots an ordered quantity comes; only fixed lots are kept apart."""
        return ordered // self.size if self.kind == "fixed" else 1


@dataclass(frozen=True, slots=True)
class PlannedPart:
    """What is known of a part before planning; receipts are by period, 1 being the first."""

    on_hand: int = 0
    receipts: Mapping[int, int] = field(default_factory=dict)
    lead_periods: int = 0
    rule: LotRule = field(default_factory=LotRule)


@dataclass(frozen=True, slots=True)
class PartPlan:
    """A part's rows, one figure a period, and its releases by period.

    A release in period 0 or earlier should already have happened: the plan is late by that much.
    """

    part: str
    gross: tuple[int, ...]
    net: tuple[int, ...]
    planned_receipts: tuple[int, ...]
    on_hand_end: tuple[int, ...]
    releases: Mapping[int, int]

    @property
    def late_releases(self) -> dict[int, int]:
        """Releases that lie before the first period."""
        return {period: quantity for period, quantity in self.releases.items() if period < 1}


def requirements(
    parts: Mapping[str, PlannedPart], bills: Bills, demand: Mapping[str, Mapping[int, int]], periods: int
) -> dict[str, PartPlan]:
    """Plan every part over periods 1..periods, users before what they use.

    demand is by part and period, for spare parts too. Components are needed in the period in which their
    parent is released (in period 1 when that is already past), rounded up once a release.
    """
    levels = low_level_codes(bills)
    gross = {part: [0] * periods for part in {*levels, *parts, *demand}}
    for part, wishes in demand.items():
        for period, quantity in wishes.items():
            if not 1 <= period <= periods:
                raise ValueError(f"{part}: demand in period {period}, outside 1..{periods}")
            gross[part][period - 1] += quantity
    plans: dict[str, PartPlan] = {}
    for part in sorted(gross, key=lambda name: (levels.get(name, 0), name)):
        plans[part] = _plan(part, parts.get(part, PlannedPart()), gross[part])
        for period, released in plans[part].releases.items():
            for component, quantity in used_by(released, bills.get(part, ())).items():
                gross[component][max(period, 1) - 1] += quantity
    return plans


def _plan(part: str, known: PlannedPart, gross: Sequence[int]) -> PartPlan:
    """One part's rows from its gross requirements."""
    net, planned, on_hand = [], [], []
    releases: dict[int, int] = {}
    balance = known.on_hand
    for index, wanted in enumerate(gross):
        balance += known.receipts.get(index + 1, 0) - wanted
        short = max(0, -balance)
        net.append(short)
        ordered = known.rule.quantity(short + _later_needs(known, gross, index, balance)) if short else 0
        planned.append(ordered)
        balance += ordered
        on_hand.append(balance)
        if ordered:
            releases[index + 1 - known.lead_periods] = ordered
    return PartPlan(part, tuple(gross), tuple(net), tuple(planned), tuple(on_hand), releases)


def _later_needs(known: PlannedPart, gross: Sequence[int], index: int, balance: int) -> int:
    """Under the period rule, the net needs of the periods that today's lot is to cover as well."""
    if known.rule.kind != "period":
        return 0
    needs, running = 0, max(balance, 0)
    for later in range(index + 1, min(index + known.rule.size, len(gross))):
        running += known.receipts.get(later + 1, 0) - gross[later]
        needs += max(0, -running)
        running = max(running, 0)
    return needs
