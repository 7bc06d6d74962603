"""A whole workbook as plain records: the row of each sheet stands, column by column, in `sheets`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from traveller.exchange.workbook.problems import Doubt, Problem
from traveller.exchange.workbook.sheets.orders import BatchRow, OrderRow, StockRow
from traveller.exchange.workbook.sheets.products import BillRow, PartRow
from traveller.exchange.workbook.sheets.routes import CheckRow, RoutingRow
from traveller.exchange.workbook.sheets.sites import ClosureRow, LaneRow, PersonRow, SiteRow
from traveller.exchange.workbook.tables import Row

__all__ = [
    "BatchRow",
    "BillRow",
    "CheckRow",
    "ClosureRow",
    "LaneRow",
    "OrderRow",
    "PartRow",
    "PersonRow",
    "RoutingRow",
    "Row",
    "SiteRow",
    "StockRow",
    "Workbook",
]


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
    questions: tuple[Doubt, ...] = field(default=(), compare=False)
    """What has to be confirmed before it is imported."""
    given: frozenset[str] = field(default=frozenset(), compare=False)
    """The sheets that were there: one that is not there says nothing, an empty one says "none"."""

    def sheet(self, name: str) -> tuple[Row, ...]:
        """The rows of one sheet by its name."""
        found: tuple[Row, ...] = getattr(self, name)
        return found
