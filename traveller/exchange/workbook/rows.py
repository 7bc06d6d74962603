"""The rows of each sheet as plain records; `row` is the number the person sees, and no part of what is said."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from traveller.exchange.workbook.problems import Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What every row has."""

    row: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteRow(Row):
    """A place where work is done, or from where things are bought."""

    site: str
    name: str
    kind: str
    timezone: str
    language: str
    country: str
    address: str
    phone: str
    contact: str
    paper: str
    turnaround_days: int
    shifts: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LaneRow(Row):
    """The way from one site to another."""

    from_site: str
    to_site: str
    transit_days: int
    carrier: str
    # None: any quantity is taken.
    over_percent: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosureRow(Row):
    """Days on which a site is shut, both ends included."""

    site: str
    first_day: dt.date
    last_day: dt.date
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonRow(Row):
    """Someone who reports from a site."""

    site: str
    name: str
    initials: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow(Row):
    """A thing that is made, bought or used up."""

    part: str
    name: str
    variant: str
    colour: str
    swatch: str
    revision: str
    kind: str
    unit: str
    piece_mass_mg: int | None
    shelf_life_days: int | None
    supplier: str
    picture: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BillRow(Row):
    """One component of one part: `quantity` of `unit` for every `per` pieces made."""

    part: str
    component: str
    quantity: Decimal
    unit: str
    per: int
    step: int | None
    """The step that consumes it; None when it is added at packing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoutingRow(Row):
    """One step on a part's way."""

    part: str
    step: int
    site: str
    verb: str
    kind: str
    operation: str
    yield_percent: Decimal
    samples: int
    cavities: int
    load_size: int
    startup_shots: int
    tool: str
    cycle_seconds: int
    setup_minutes: int
    instruction: str
    scrap_reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRow(Row):
    """What a step must prove; `parameters` are the kind's own columns, as text with a decimal point."""

    part: str
    step: int
    check: str
    kind: str
    scope: str
    blocks: str
    parameters: tuple[tuple[str, str], ...]
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRow(Row):
    """One line of a customer's order."""

    order: str
    customer: str
    ship_to: str
    placed: dt.date
    line: int
    part: str
    quantity: int
    due: dt.date
    over_percent: Decimal
    under_percent: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class StockRow(Row):
    """What lies where on the day of the import."""

    part: str
    lot: str
    site: str
    quantity: Decimal
    unit: str
    received: dt.date
    expires: dt.date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchRow(Row):
    """A batch that was under way before the program came: good pieces of `step` lying at `site`."""

    reference: str
    part: str
    order: str
    line: int | None
    step: int
    site: str
    good: int
    started_on: dt.date


@dataclass(frozen=True, slots=True)
class Workbook:
    """A whole workbook, every row valid by itself and against the others."""

    sites: tuple[SiteRow, ...] = ()
    lanes: tuple[LaneRow, ...] = ()
    closures: tuple[ClosureRow, ...] = ()
    people: tuple[PersonRow, ...] = ()
    parts: tuple[PartRow, ...] = ()
    bills: tuple[BillRow, ...] = ()
    routings: tuple[RoutingRow, ...] = ()
    checks: tuple[CheckRow, ...] = ()
    orders: tuple[OrderRow, ...] = ()
    stock: tuple[StockRow, ...] = ()
    batches: tuple[BatchRow, ...] = ()
    pictures: Mapping[str, bytes] = field(default_factory=dict)
    warnings: tuple[Problem, ...] = field(default=(), compare=False)
    given: frozenset[str] = field(default=frozenset(), compare=False)
    """The sheets that were there: one that is not there says nothing, an empty one says "none"."""

    def sheet(self, name: str) -> tuple[Row, ...]:
        """The rows of one sheet by its name."""
        found: tuple[Row, ...] = getattr(self, name)
        return found
