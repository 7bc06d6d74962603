"""Codes that differ in capitals alone are one code: whoever reads a label aloud hears no difference."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from traveller.exchange.workbook.known import Known
from traveller.exchange.workbook.problems import Findings
from traveller.exchange.workbook.rows import Workbook

__all__ = ["refuse_spellings"]


def refuse_spellings(workbook: Workbook, known: Known, findings: Findings) -> Mapping[str, Collection[str]]:
    """Note each second spelling of a code; they come back by sheet, so that nobody complains of them again."""
    orders = {order for order, _line in known.order_lines}
    return {
        "sites": _of("sites", "site", ((row.row, row.site) for row in workbook.sites), known.sites, findings),
        "parts": _of("parts", "part", ((row.row, row.part) for row in workbook.parts), known.parts, findings),
        "orders": _of("orders", "order", ((row.row, row.order) for row in workbook.orders), orders, findings),
        "batches": _of("batches", "reference", ((row.row, row.reference) for row in workbook.batches), (), findings),
    }


def _of(
    sheet: str, column: str, codes: Iterable[tuple[int, str]], known: Collection[str], findings: Findings
) -> set[str]:
    there: dict[str, str] = {}
    for code in known:
        there.setdefault(code.casefold(), code)
    first: dict[str, tuple[int, str]] = {}
    second: set[str] = set()
    for number, code in codes:
        row, other = first.setdefault(code.casefold(), (number, code))
        if code in known:
            continue
        if other != code:
            wrong = f"is the same code as {other} in row {row}, in other letters"
            findings.wrong(sheet, number, column, code, wrong, f"write {other}, or give it a code of its own")
            second.add(code)
        elif code.casefold() in there:
            kept = there[code.casefold()]
            wrong = f"is the same code as {kept}, which is known already, in other letters"
            findings.wrong(sheet, number, column, code, wrong, f"write {kept}, or give it a code of its own")
            second.add(code)
    return second
