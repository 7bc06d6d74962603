"""A workbook with an example in every column of every sheet: the rows of the demo, and one row of examples each."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tests.exchange.books import read
from traveller.exchange.workbook import Workbook, from_database
from traveller.exchange.workbook.compare import canonical, row_key
from traveller.exchange.workbook.sheets import SHEETS
from traveller.exchange.workbook.tables import Row, Sheet
from traveller.rules.checks import KINDS

DEMO = Path(__file__).parents[2] / "fixtures" / "demo"
# A check's row needs what its kind reads.
OF_ITS_KIND = {"checks": next(iter(KINDS.values())).example}
# All lines of an order say the same of it: those of the demo's order give way to the example.
WHOLE = {"orders": ("order",)}


def example_row(sheet: Sheet) -> dict[str, str]:
    """The examples of a sheet's columns, by heading."""
    return {each.name: each.example for each in sheet.columns} | dict(OF_ITS_KIND.get(sheet.name, {}))


def write_examples(folder: Path) -> Path:
    """The demo as CSV files, the row of examples behind the rows of each sheet."""
    folder.mkdir(parents=True, exist_ok=True)
    for sheet in SHEETS.values():
        with (DEMO / f"{sheet.name}.csv").open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
        own = example_row(sheet)
        key = WHOLE.get(sheet.name) or tuple(each.name for each in sheet.columns if sheet.is_key(each))
        others = [row for row in rows if any(row[name] != own[name] for name in key)]
        with (folder / f"{sheet.name}.csv").open("w", encoding="utf-8", newline="") as out:
            writer = csv.DictWriter(out, [each.name for each in sheet.all_columns], restval="")
            writer.writeheader()
            writer.writerows([*others, own])
    (folder / "pictures").mkdir(exist_ok=True)
    for picture in (DEMO / "pictures").iterdir():
        (folder / "pictures" / picture.name).write_bytes(picture.read_bytes())
    return folder


def wanted_rows(folder: Path) -> Mapping[str, Row]:
    """The row of examples of each sheet as the database would write it."""
    workbook = read(folder)
    units = {row.part: row.unit for row in workbook.parts}
    return {name: canonical(workbook, units, {}).sheet(name)[-1] for name in SHEETS}


def lost_columns(wanted: Mapping[str, Row]) -> list[str]:
    """The columns of which the database does not give back the example, as sheet.column."""
    there = from_database(pictures=False)
    return [
        f"{sheet.name}.{each.name}"
        for sheet in SHEETS.values()
        for each in sheet.columns
        if getattr(_same_row(there, sheet, wanted[sheet.name]), each.attribute, None)
        != getattr(wanted[sheet.name], each.attribute)
    ]


def _same_row(there: Workbook, sheet: Sheet, row: Row) -> Any:
    found = [each for each in there.sheet(sheet.name) if row_key(each, sheet.name) == row_key(row, sheet.name)]
    return found[0] if found else None
