"""Orders, stock and batches under way against the parts, sites and steps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

from traveller.exchange.workbook.lookup import Lookup
from traveller.exchange.workbook.problems import Findings
from traveller.exchange.workbook.rows import BatchRow, OrderRow, Workbook
from traveller.exchange.workbook.validate_routes import quantity_fault

__all__ = ["validate_batches", "validate_orders", "validate_stock"]

R = TypeVar("R", OrderRow, BatchRow)


def validate_orders(workbook: Workbook, lookup: Lookup, findings: Findings) -> None:
    """Finished parts, due after placed, and one customer an order."""
    for row in workbook.orders:
        part = lookup.part("orders", row.row, "part", row.part)
        if part is not None and part.unit != "piece":
            findings.wrong("orders", row.row, "part", row.part, f"is counted in {part.unit}", "order pieces only")
        if row.due < row.placed:
            right = f"write a day from {row.placed} on"
            findings.wrong("orders", row.row, "due", row.due, "is before the order was placed", right)
    _must_agree("orders", workbook.orders, lambda row: row.order, ("customer", "ship_to", "placed"), findings)


def validate_stock(workbook: Workbook, lookup: Lookup, findings: Findings) -> None:
    """Units that fit the part, whole quantities, expiry after receipt."""
    for row in workbook.stock:
        part = lookup.part("stock", row.row, "part", row.part)
        lookup.site("stock", row.row, "site", row.site)
        fault = quantity_fault(row.quantity, row.unit, part.unit) if part is not None else None
        if fault:
            column, wrong, right = fault
            findings.wrong("stock", row.row, column, getattr(row, column), wrong, right)
        if row.expires is not None and row.expires < row.received:
            right = f"write a day from {row.received} on"
            findings.wrong("stock", row.row, "expires", row.expires, "is before it was received", right)


def validate_batches(workbook: Workbook, lookup: Lookup, findings: Findings) -> Workbook:
    """A batch lies at steps of its own part, at their sites, for an order line of that part."""
    checked: list[BatchRow] = []
    for row in workbook.batches:
        if lookup.part("batches", row.row, "part", row.part) is not None:
            row = _placed(row, lookup, findings)
        if row.order:
            row = _for_line(row, lookup, findings)
        elif row.line is not None:
            findings.wrong("batches", row.row, "order", "", "is empty, but a line is given", "name the order too")
        checked.append(row)
    agreeing = ("part", "order", "line", "started_on")
    _must_agree("batches", checked, lambda row: row.reference, agreeing, findings)
    return replace(workbook, batches=tuple(checked))


def _placed(row: BatchRow, lookup: Lookup, findings: Findings) -> BatchRow:
    site = lookup.step("batches", row.row, "step", row.part, row.step)
    if site is None:
        return row
    if not row.site:
        return replace(row, site=site)
    if lookup.site("batches", row.row, "site", row.site) and row.site != site:
        wrong = f"is not where step {row.step} of {row.part} is done"
        findings.wrong("batches", row.row, "site", row.site, wrong, f"write {site}, or the step that is done there")
    return row


def _for_line(row: BatchRow, lookup: Lookup, findings: Findings) -> BatchRow:
    if row.line is None:
        row = replace(row, line=1)
    assert row.line is not None
    if "orders" in findings.unread:
        return row
    if (row.order, row.line) in lookup.order_lines:
        ordered = lookup.order_lines[row.order, row.line]
        if ordered is not None and ordered != row.part:
            right = "leave order and line empty for a batch of a component"
            wrong = f"but line {row.line} of order {row.order} is for {ordered}"
            findings.wrong("batches", row.row, "part", row.part, wrong, right)
        return row
    lines = sorted(line for order, line in lookup.order_lines if order == row.order)
    if lines:
        right = "its lines are " + ", ".join(str(line) for line in lines)
        findings.wrong("batches", row.row, "line", row.line, f"is not a line of order {row.order}", right)
    else:
        orders = sorted({order for order, _ in lookup.order_lines})
        right = "add it to the sheet orders" if not orders else "known orders: " + ", ".join(orders[:8])
        findings.wrong("batches", row.row, "order", row.order, "is not an order", right)
    return row


def _must_agree(
    sheet: str, rows: list[R] | tuple[R, ...], group: Callable[[R], str], columns: tuple[str, ...], findings: Findings
) -> None:
    """Rows that tell of one thing must tell the same of it."""
    first: dict[str, R] = {}
    for row in rows:
        other = first.setdefault(group(row), row)
        for column in columns:
            mine, theirs = getattr(row, column), getattr(other, column)
            if mine != theirs:
                wrong = f"but row {other.row} of the same {sheet[:-1] if sheet == 'orders' else 'batch'} says "
                findings.wrong(sheet, row.row, column, mine, f'{wrong}"{theirs}"', "make the two rows agree")
