"""What a released routing says, read once per process: operations, checks and bills of a revision never change.

An import that changes an operation, a check or a bill line makes the next revision (see products.models.routing),
so these answers stay true for as long as the process lives. `forget` is for a database that was made anew.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

from traveller.products.models import BillLine, Check, Operation
from traveller.rules.checks import KINDS
from traveller.rules.checks.base import Blocks, Scope
from traveller.rules.checks.kind import CheckKind, Heat, Terms


@dataclass(frozen=True)
class CheckPlan:
    """A check as a step carries it: parsed parameters, what it is judged per, what it blocks."""

    key: str
    kind: CheckKind[Any]
    params: Any
    scope: Scope
    blocks: Blocks
    source: str

    @property
    def is_gate(self) -> bool:
        return self.blocks != "nothing"

    @cached_property
    def terms(self) -> Terms:
        """What it asks of its evidence by its parameters."""
        return self.kind.terms(self.params)

    @cached_property
    def heat(self) -> Heat | None:
        """The temperatures that a log of its step is drawn against."""
        return self.kind.heat(self.params)


@lru_cache(maxsize=4096)
def checks_of(operation_id: int) -> tuple[CheckPlan, ...]:
    plans = []
    for row in Check.objects.filter(operation_id=operation_id).order_by("id"):
        kind = KINDS[row.kind]
        params = kind.parse(row.parameters)
        if isinstance(params, list):
            raise ValueError(f"check {row.key} of operation {operation_id}: {params}")
        plans.append(CheckPlan(row.key, kind, params, row.scope, row.blocks, row.source))  # type: ignore[arg-type]
    return tuple(plans)


@lru_cache(maxsize=4096)
def bill_at(routing_id: int, step: int) -> tuple[tuple[int, int], ...]:
    """(component id, per thousand) used at a step of a routing; step 0: added at packing."""
    rows = BillLine.objects.filter(routing_id=routing_id, step=step).order_by("id")
    return tuple(rows.values_list("component_id", "per_thousand"))


@lru_cache(maxsize=4096)
def operations_of(routing_id: int) -> tuple[Operation, ...]:
    return tuple(Operation.objects.filter(routing_id=routing_id).select_related("site").order_by("number"))


def forget() -> None:
    """Drop what was read: the database behind it was replaced."""
    checks_of.cache_clear()
    bill_at.cache_clear()
    operations_of.cache_clear()
