"""Purchases: what is on order, how much of it came, and what released lines still wait for."""

from __future__ import annotations

from collections.abc import Mapping

from tests.reckoning.claims import Book, Rule, as_of
from tests.reckoning.figures import Amount, Day, Expected
from tests.reckoning.goods import Known
from tests.reckoning.page import Page
from tests.reckoning.rows import Row


def compare(page: Page, known: Known, book: Book) -> None:
    rows = [one for one in known.rows.purchases.values() if one.closed_at is None]
    overdue = sum(_is_overdue(known, one) for one in rows)
    waiting = {need.part_id for need in known.rows.needs.values() if need.left}

    def claims(_shown: Mapping[str, str]) -> Mapping[str, Expected]:
        return {"n": len(rows) or None, "overdue": overdue or None}

    some = r"(?:(?P<n>\S+) purchases? (?:is|are) open|Nothing is on order)(?:; (?P<overdue>\S+) overdue)?\."
    buy = r"(?:(?P<parts>\S+) parts? (?:is|are) still to be bought|Released orders wait for nothing else)\."
    rules = [Rule(some, claims), Rule(buy, lambda _shown: {"parts": len(waiting) or None})]
    book.sentences(page, "purchases", [as_of(known), *rules])
    book.table(page.table("Purchase", "Ordered"), "purchases", ["Purchase"], [_row(known, one) for one in rows])


def _is_overdue(known: Known, row: Row) -> bool:
    return row.due_on is not None and row.due_on < known.today


def _row(known: Known, row: Row) -> dict[str, Expected]:
    part = known.rows.parts[row.part_id]
    return {
        "Purchase": known.code(row.code),
        "Part": known.title(part),
        "From": known.rows.sites[row.supplier_id].name,
        "To": known.rows.sites[row.deliver_to_id].name,
        "Ordered": Amount(row.quantity, part.unit),
        "Received": Amount(row.received, part.unit) if row.received else None,
        "Due": Day(row.due_on, known.today) if row.due_on else None,
        "State": "Overdue" if _is_overdue(known, row) else "On order",
    }
