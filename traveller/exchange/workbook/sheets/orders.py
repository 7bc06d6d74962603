"""The sheets of an order book and of what there was before: orders, stock, batches under way."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from sites.models import Site
from traveller.batches.models import Batch
from traveller.exchange.workbook.cells import read_code, read_line, read_lines, read_lot, read_whole, unit
from traveller.exchange.workbook.columns import COUNT, PERCENT, POSITIVE, SITE, STEP
from traveller.exchange.workbook.dates import to_date
from traveller.exchange.workbook.stored import at, counted_in, part_at, percentage, site_at, with_others
from traveller.exchange.workbook.tables import Row, column, record_of_columns, sheet_of

__all__ = ["BATCHES", "ORDERS", "STOCK", "BatchRow", "OpenedLot", "OrderRow", "StockRow", "TakenOver"]


@record_of_columns
class OrderRow(Row):
    """One line of a customer's order."""

    order: str = column(read_code(), "The order's number.", at("order.number"), "1041")
    customer: str = column(
        read_line(120),
        "Who ordered; the same in all lines of an order.",
        at("order.customer"),
        "Harbour & Heath Outfitters",
    )
    ship_to: str = column(
        read_lines(),
        "The address to which it is shipped; the same in all lines of an order.",
        at("order.ship_to"),
        "Dock 3, 55 Quay Road",
        default="",
    )
    placed: dt.date = column(
        to_date,
        "The day on which it was ordered; the same in all lines of an order.",
        at("order.placed_on"),
        "2026-01-05",
    )
    line: int = column(read_whole(1, 9_999), "The line's number within the order.", at("number"), "2", default=1)
    part: str = column(read_code(), "The part that is ordered; it is counted in pieces.", part_at("part"), "LANTERN-AM")
    quantity: int = column(COUNT, "How many are ordered.", at("quantity"), "240", unit="pieces")
    due: dt.date = column(to_date, "The day on which they leave your bench.", at("due_on"), "2026-02-06")
    over_percent: Decimal = column(
        PERCENT,
        "How many more than ordered the customer takes: packing goes up to it.",
        percentage("over_ppm"),
        "5",
        default=Decimal(0),
        unit="% of the line's quantity",
    )
    under_percent: Decimal = column(
        PERCENT,
        "How many fewer than ordered the customer takes as the whole.",
        percentage("under_ppm"),
        "2.5",
        default=Decimal(0),
        unit="% of the line's quantity",
    )


@dataclass(frozen=True, slots=True)
class OpenedLot:
    """A lot of the opening stock as the workbook told it."""

    part: Any
    outside_number: str
    site: Site
    quantity: Decimal
    received: dt.date
    expires_on: dt.date | None


@record_of_columns
class StockRow(Row):
    """What lies where on the day of the import."""

    part: str = column(read_code(), "The part that lies there.", part_at("part"), "RESIN-AM")
    lot: str = column(
        read_lot,
        "The lot's number as its maker or supplier wrote it on the goods.",
        at("outside_number"),
        "PC-7748",
        takes="text on one line, at most 60 characters",
    )
    site: str = column(SITE, "Where it lies.", site_at("site"), "bench")
    quantity: Decimal = column(POSITIVE, "How much lies there.", at("quantity", store=int), "60")
    unit: str = column(
        unit(),
        "The unit of the quantity; it is kept in the part's own unit, and has to fit it.",
        counted_in("part.unit"),
        "kg",
        default="piece",
    )
    received: dt.date = column(
        to_date,
        "The day on which it came to lie there; a day in the past.",
        with_others("received", attribute="happened_at"),
        "2025-12-15",
    )
    expires: dt.date | None = column(
        to_date,
        "The last day on which it may be used; empty counts the part's shelf life from the day it was received, "
        "where the part has one.",
        at("expires_on"),
        "2026-12-16",
        default=None,
    )


@dataclass(frozen=True, slots=True)
class TakenOver:
    """Good pieces of a batch taken over, at one of the steps at which they lay."""

    batch: Batch
    reference: str
    order: str
    line: int | None
    step: int
    site: Site
    good: int
    started_on: dt.date


@record_of_columns
class BatchRow(Row):
    """A batch that was under way before the program came: good pieces of `step` lying at `site`."""

    reference: str = column(
        read_code(),
        "Your own number of the batch; several rows of one batch repeat it.",
        with_others("reference"),
        "RUN-91",
    )
    part: str = column(read_code(), "What the batch makes.", with_others("batch.part.number"), "LANTERN-AM")
    order: str = column(
        read_code(), "The order that it is for, if it is for one.", with_others("order"), "1041", default=""
    )
    line: int | None = column(
        read_whole(1, 9_999),
        "The line of that order; empty is line 1 where an order is named.",
        with_others("line"),
        "2",
        default=None,
    )
    step: int = column(STEP, "The last step that the pieces have been through.", with_others("step"), "10")
    site: str = column(
        SITE,
        "Where they lie: the site of that step, which an empty cell means.",
        with_others("site.code"),
        "bench",
        default="",
    )
    good: int = column(COUNT, "Good pieces that lie there.", with_others("good"), "40", unit="pieces")
    started_on: dt.date = column(
        to_date,
        "The day on which the batch was begun.",
        with_others("started_on", attribute="happened_at"),
        "2025-12-29",
    )


ORDERS: Final = sheet_of("orders", "What customers ordered, one line a row.", OrderRow, ("order", "line"))
STOCK: Final = sheet_of(
    "stock", "What lay where when the program came: taken over once.", StockRow, ("part", "lot", "site")
)
BATCHES: Final = sheet_of(
    "batches",
    "Batches that were under way when the program came: taken over once, one row for each step at which pieces lie.",
    BatchRow,
    ("reference", "step"),
)
