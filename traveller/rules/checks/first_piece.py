"""What makes another thing of an approved first piece? Changes of its set-up, and cavities that nobody measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import datetime

from traveller.rules.checks.base import Evidence, MadeWith, elapsed

__all__ = ["CHANGES", "UNDECIDED", "changed", "unmeasured"]

# What is said before anybody decided.
UNDECIDED = "approval.waiting"

# What may have changed, by its name in MadeWith.
CHANGES: Mapping[str, str] = {
    "design": "approval.change.design",
    "tool": "approval.change.tool",
    "cavities": "approval.change.cavities",
    "material": "approval.change.material",
    "place": "approval.change.place",
    "machines": "approval.change.machines",
}


def changed(approved: MadeWith, now: MadeWith) -> list[str]:
    """What differs between what was approved and what is run: design, tool, cavities, material, place, machines.

    Fewer cavities than were approved are no new thing to approve, but a mould run differently: they count.
    Fewer machines do not: each of them was approved.
    """
    found = []
    for one in fields(MadeWith):
        before, after = getattr(approved, one.name), getattr(now, one.name)
        differs = not set(after) <= set(before) if one.name == "machines" else before != after
        if before and after and differs:
            found.append(one.name)
    return found


def unmeasured(evidence: Evidence, decided_at: datetime, measured: Sequence[int] = ()) -> list[int]:
    """The open cavities from which nothing was measured by the time of a decision."""
    found = {
        reading.cavity
        for reading in evidence.readings
        if reading.number is not None and elapsed(reading.taken_at, decided_at).total_seconds() >= 0
    }
    return [cavity for cavity in evidence.open_cavities if cavity not in found | set(measured)]
