"""Rows against each other: what cannot be seen in one cell. Sites and parts here, the rest beside."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from sites.people import sounds
from traveller.exchange.workbook.known import Known
from traveller.exchange.workbook.lookup import Lookup
from traveller.exchange.workbook.problems import Findings
from traveller.exchange.workbook.rows import PersonRow, Workbook
from traveller.exchange.workbook.spellings import refuse_spellings
from traveller.exchange.workbook.validate_checks import validate_checks
from traveller.exchange.workbook.validate_orders import validate_batches, validate_orders, validate_stock
from traveller.exchange.workbook.validate_routes import validate_bills, validate_routings

__all__ = ["validate"]

# No holidays last longer; common practice, no source.
CLOSED_DAYS_MOST = 60


def validate(workbook: Workbook, known: Known, findings: Findings) -> Workbook:
    """Note all that contradicts; the workbook comes back with blanks filled that other rows decide."""
    lookup = Lookup(workbook, known, findings)
    doubles = refuse_spellings(workbook, known, findings)
    _sites(workbook, lookup, findings)
    workbook = _people(workbook, lookup, known, findings)
    workbook = _closures(workbook, lookup, findings)
    _parts(workbook, lookup, doubles["parts"], findings)
    validate_bills(workbook, lookup, findings)
    validate_routings(workbook, lookup, findings)
    workbook = validate_checks(workbook, lookup, findings)
    validate_orders(workbook, lookup, findings)
    validate_stock(workbook, lookup, findings)
    return validate_batches(workbook, lookup, findings)


def _sites(workbook: Workbook, lookup: Lookup, findings: Findings) -> None:
    for lane in workbook.lanes:
        ends = (("from", lane.from_site), ("to", lane.to_site))
        known = [lookup.site("lanes", lane.row, column, code) for column, code in ends]
        if all(known) and lane.from_site == lane.to_site:
            findings.wrong("lanes", lane.row, "to", lane.to_site, "is where the lane begins", "name another site")
    if workbook.sites and "own" not in lookup.sites.values() and None not in lookup.sites.values():
        right = "give the site where you assemble and pack the kind own"
        findings.wrong("sites", None, "kind", "", "names no bench of your own", right)


def _people(workbook: Workbook, lookup: Lookup, known: Known, findings: Findings) -> Workbook:
    """Everybody under the name by which they are known; nobody twice, however the name is typed."""
    first: dict[tuple[str, str], PersonRow] = {}
    named: list[PersonRow] = []
    for person in workbook.people:
        lookup.site("people", person.row, "site", person.site)
        key = (person.site, sounds(person.name))
        spellings = known.people.get(key, ())
        other = first.setdefault(key, person)
        if other.name != person.name and person.name not in spellings:
            wrong = f"is the same person as {other.name} in row {other.row}"
            findings.wrong("people", person.row, "name", person.name, wrong, "keep one of the two rows")
        name = person.name if person.name in spellings or not spellings else spellings[0]
        named.append(replace(person, name=name))
    return replace(workbook, people=tuple(named))


def _closures(workbook: Workbook, lookup: Lookup, findings: Findings) -> Workbook:
    filled = tuple(replace(row, last_day=row.first_day) if row.last_day is None else row for row in workbook.closures)
    for row in filled:
        lookup.site("closures", row.row, "site", row.site)
        if row.last_day < row.first_day:
            right = f"write a day from {row.first_day} on"
            findings.wrong("closures", row.row, "last_day", row.last_day, "is before the first day", right)
        elif (days := (row.last_day - row.first_day).days + 1) > CLOSED_DAYS_MOST:
            right = "check the year; a site where nothing is done any more is closed for good on its own page"
            wrong = f"shuts {row.site} for {days:,} days"
            findings.ask("closures", row.row, "last_day", row.last_day, wrong, right, "taken")
    return replace(workbook, closures=filled)


def _parts(workbook: Workbook, lookup: Lookup, doubles: Collection[str], findings: Findings) -> None:
    for part in workbook.parts:
        if part.part in doubles:
            continue
        if part.supplier:
            lookup.site("parts", part.row, "supplier", part.supplier)
        if part.kind == "made":
            found = lookup.parts.get(part.part)
            if found is not None and not found.steps and "routings" not in findings.unread:
                right = "give it steps in the sheet routings, or call it bought"
                findings.wrong("parts", part.row, "kind", "made", f"but {part.part} has no steps", right)
        elif not part.supplier:
            right = "name the site that sells it"
            findings.warn("parts", part.row, "supplier", "", "is empty: nobody to buy it from", right)
