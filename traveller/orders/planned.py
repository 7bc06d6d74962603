"""The plan for order lines, as it is shown, released and frozen: plain data, with every assumption."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date
from hashlib import sha256
from typing import Any

__all__ = [
    "Assumption",
    "Issue",
    "Plan",
    "PlanProblem",
    "PlannedBatch",
    "PlannedLine",
    "PlannedReservation",
    "PlannedStep",
    "Share",
    "Shortage",
    "UnderWay",
]


@dataclass(frozen=True, slots=True)
class PlanProblem:
    """Why nothing can be planned or released: a code and figures."""

    code: str
    figures: Mapping[str, int | str | list[str]]


@dataclass(frozen=True, slots=True)
class Assumption:
    """What the plan takes for true: a code and figures."""

    code: str
    figures: Mapping[str, int | str]


@dataclass(frozen=True, slots=True)
class PlannedLine:
    """An order line with what of it is to be planned; `under_way`: batches that other lines do not need."""

    line_id: int
    order: str
    number: int
    part: str
    title: str
    quantity: int
    due_on: date
    from_free: int
    from_under_way: int
    to_make_or_buy: int


@dataclass(frozen=True, slots=True)
class Share:
    line_id: int
    order: str
    number: int
    quantity: int


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """`start_on`: the day on which the batch must be at this site to be on time."""

    number: int
    site: str
    verb: str
    enters: int
    leaves: int
    shots: int | None
    loads: int | None
    start_on: date


@dataclass(frozen=True, slots=True)
class PlannedBatch:
    part: str
    title: str
    wanted: int
    start: int
    shots: int | None
    destination: str
    start_on: date
    due_on: date
    late: bool
    steps: tuple[PlannedStep, ...]
    shares: tuple[Share, ...]


@dataclass(frozen=True, slots=True)
class PlannedReservation:
    """Free stock to be kept for a line; `coming`: still on the road to that site."""

    line_id: int
    part: str
    lot_id: int
    lot: str
    site: str
    quantity: int
    expires_on: date | None
    coming: bool


@dataclass(frozen=True, slots=True)
class UnderWay:
    """Pieces of an open batch that no line had a share in, to be promised to a line."""

    line_id: int
    part: str
    batch_id: int
    batch: str
    quantity: int


@dataclass(frozen=True, slots=True)
class Shortage:
    """A bought part or material that is not there: `waiting` of it is on order, `short` is not."""

    part: str
    title: str
    unit: str
    kind: str
    needed: int
    from_free: int
    waiting: int
    short: int
    needed_on: date
    supplier: str
    deliver: tuple[tuple[str, int], ...]
    lines: tuple[Share, ...]


@dataclass(frozen=True, slots=True)
class Issue:
    """What must be brought to the site that consumes it; free issue where that site is a subcontractor's."""

    part: str
    title: str
    unit: str
    site: str
    purpose: str
    needed: int
    there: int
    to_send: int
    sources: tuple[tuple[str, int], ...]
    to_come: int
    needed_on: date


@dataclass(frozen=True, slots=True)
class Plan:
    """What release will do with these lines; refused while there are problems."""

    on: date
    lines: tuple[PlannedLine, ...] = ()
    batches: tuple[PlannedBatch, ...] = ()
    reservations: tuple[PlannedReservation, ...] = ()
    under_way: tuple[UnderWay, ...] = ()
    shortages: tuple[Shortage, ...] = ()
    issues: tuple[Issue, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    problems: tuple[PlanProblem, ...] = field(default=())

    def as_json(self) -> dict[str, Any]:
        """Plain JSON: dates as text, tuples as lists."""
        plain: dict[str, Any] = json.loads(json.dumps(asdict(self), default=str))
        return plain

    @property
    def digest(self) -> str:
        """The same plan made another day has the same digest, unless something in it changed."""
        plain = self.as_json()
        del plain["on"]
        for batch in plain["batches"]:
            del batch["late"]
        return sha256(json.dumps(plain, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
