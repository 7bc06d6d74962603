"""Bills and routings against each other."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise

from traveller.exchange.workbook.cells import UNITS_KEPT
from traveller.exchange.workbook.lookup import Lookup
from traveller.exchange.workbook.problems import Findings
from traveller.exchange.workbook.rows import BillRow, RoutingRow, Workbook
from traveller.rules.netting import NeedPerThousand, find_loop
from traveller.rules.units import UNIT_WORDS, UnitError, whole_of

__all__ = ["per_thousand", "quantity_fault", "validate_bills", "validate_routings"]

PER_THOUSAND_MAX = 10**15
# Who scrapes through with less has more likely typed 0.96 for 96 %; common practice, no source.
YIELD_PERCENT_LEAST = 50


def per_thousand(row: BillRow, unit: str) -> int:
    """A bill's row as whole base units of the component per thousand pieces made."""
    whole = whole_of(row.quantity * (1000 // row.per), row.unit, unit)  # type: ignore[arg-type]
    if isinstance(whole, UnitError):
        raise ValueError(f"row {row.row} was not validated")
    return whole


def quantity_fault(quantity: Decimal, unit: str, base: str, counted: str = "") -> tuple[str, str, str] | None:
    """Column, what is wrong and what is right with a quantity for a part counted in `base`; None when it fits."""
    whole = whole_of(quantity, unit, base)  # type: ignore[arg-type]
    if isinstance(whole, UnitError) and whole.why != "not_whole":
        like = [each for each in UNITS_KEPT if _kind(each) == _kind(base)]
        others = [word for word in ("kg", "m", "l") if _kind(word) == _kind(base)]
        return "unit", f"does not measure a part counted in {base}", "write " + " or ".join(like + others)
    if isinstance(whole, UnitError):
        return "quantity", f"is no whole number of {base}{counted}", f"the part is counted in whole {base}"
    if whole > PER_THOUSAND_MAX:
        return "quantity", "is too large", "check the unit"
    return None


def _kind(unit: str) -> str:
    base = UNIT_WORDS[unit][0]
    return "mass" if base in ("GRM", "MGM") else base


def validate_bills(workbook: Workbook, lookup: Lookup, findings: Findings) -> None:
    """Known parts, steps that exist, units that fit, and no bill that contains itself."""
    for row in workbook.bills:
        part = lookup.part("bills", row.row, "part", row.part)
        component = lookup.part("bills", row.row, "component", row.component)
        if part is not None and part.kind != "made":
            right = "only made parts have a bill"
            findings.wrong("bills", row.row, "part", row.part, f"is {part.kind}", right)
        elif row.step is not None:
            lookup.step("bills", row.row, "step", row.part, row.step)
        if component is None:
            continue
        fault = quantity_fault(row.quantity * (1000 // row.per), row.unit, component.unit, " per 1000")
        if fault:
            column, wrong, right = fault
            found = row.unit if column == "unit" else row.quantity
            findings.wrong("bills", row.row, column, found, wrong, right)
    _refuse_loop(workbook, lookup, findings)


def _refuse_loop(workbook: Workbook, lookup: Lookup, findings: Findings) -> None:
    """Spell every loop out once: each is taken out before the next is looked for."""
    bills = {number: [*part.components] for number, part in lookup.parts.items() if part is not None}
    while True:
        loop = find_loop({part: [NeedPerThousand(each, 1) for each in below] for part, below in bills.items()})
        if loop is None:
            return
        closing, first = loop[-2], loop[-1]
        bills[closing].remove(first)
        rows = [row.row for row in workbook.bills if (row.part, row.component) == (closing, first)]
        findings.wrong(
            "bills",
            rows[0] if rows else None,
            "component",
            first,
            "makes the bill contain itself: " + " -> ".join(loop),
            "take one of these rows out",
        )


def validate_routings(workbook: Workbook, lookup: Lookup, findings: Findings) -> None:
    """Each part's steps in the order prepare, make once, work; sites known and joined by lanes."""
    routes: dict[str, list[RoutingRow]] = {}
    for row in workbook.routings:
        routes.setdefault(row.part, []).append(row)
        part = lookup.part("routings", row.row, "part", row.part)
        lookup.site("routings", row.row, "site", row.site)
        if part is not None and part.kind != "made":
            right = f"call {row.part} made in the sheet parts, or take the row out"
            findings.wrong("routings", row.row, "part", row.part, f"is {part.kind}, and has steps", right)
        if row.yield_percent < YIELD_PERCENT_LEAST:
            wrong = f"expects that of 100 pieces {row.yield_percent.normalize():f} come out good"
            right = "96 is 96 %; confirmed, the plan starts so many more"
            findings.ask("routings", row.row, "yield_percent", row.yield_percent, wrong, right, "taken")
        if row.kind != "make" and row.startup_shots:
            findings.wrong(
                "routings",
                row.row,
                "startup_shots",
                row.startup_shots,
                "stands at a step that makes nothing",
                "leave it empty, or call the step make",
            )
    broken = {str(half.get("part", "")) for half in findings.half_read.get("routings", ())}
    for number, steps in routes.items():
        if number not in broken:
            _refuse_bad_order(number, sorted(steps, key=lambda row: row.step), findings)
        _warn_of_lanes(sorted(steps, key=lambda row: row.step), lookup, findings)


def _refuse_bad_order(number: str, steps: Sequence[RoutingRow], findings: Findings) -> None:
    makes = [row for row in steps if row.kind == "make"]
    if not makes:
        right = "call the step at which the pieces come to be make"
        findings.wrong("routings", steps[0].row, "kind", steps[0].kind, f"but no step makes {number}", right)
        return
    for row in makes[1:]:
        wrong = f"but step {makes[0].step} makes {number} already"
        findings.wrong("routings", row.row, "kind", "make", wrong, "call it work")
    for row in steps:
        if row.kind == "work" and row.step < makes[0].step:
            wrong = f"but no piece is there before step {makes[0].step}"
            findings.wrong("routings", row.row, "kind", "work", wrong, "call it prepare")
        if row.kind == "prepare" and row.step > makes[0].step:
            wrong = f"but the pieces are there since step {makes[0].step}"
            findings.wrong("routings", row.row, "kind", "prepare", wrong, "call it work")


def _warn_of_lanes(steps: Sequence[RoutingRow], lookup: Lookup, findings: Findings) -> None:
    for before, after in pairwise(steps):
        if before.site != after.site and (before.site, after.site) not in lookup.lanes:
            wrong = f"has no lane from {before.site}, where step {before.step} is done"
            findings.warn("routings", after.row, "site", after.site, wrong, "add it to the sheet lanes")
