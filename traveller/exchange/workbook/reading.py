"""From raw sheets to records: every cell by its column, every fault noted, nothing stopped at the first."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from traveller.exchange.workbook.cells import to_text
from traveller.exchange.workbook.columns import Column
from traveller.exchange.workbook.files import read_files
from traveller.exchange.workbook.folders import Upload
from traveller.exchange.workbook.heads import match_heads
from traveller.exchange.workbook.known import Known
from traveller.exchange.workbook.numbers import BadCell, two_ways
from traveller.exchange.workbook.pictures import take_pictures
from traveller.exchange.workbook.problems import WHOLE_FILE, Findings, Problem, merged, nearest_word
from traveller.exchange.workbook.raw import DecimalMark, Raw, RawBook, RawSheet, is_blank
from traveller.exchange.workbook.rows import Row, Workbook
from traveller.exchange.workbook.sheets import SHEETS
from traveller.exchange.workbook.tables import Sheet, headings
from traveller.exchange.workbook.validate import validate

__all__ = ["read_raw", "read_workbook"]

PROBLEMS_MAX = 500
_BAD: Any = object()


def read_raw(source: Path | str | Upload) -> RawBook:
    """A folder of CSV files, an XLSX or a zip of either, decoded in a child. It takes seconds: not in a transaction."""
    return read_files(source, tuple(SHEETS))


def read_workbook(
    source: Path | str | Upload | RawBook, *, known: Known | None = None, shift_days: int = 0
) -> Workbook | list[Problem]:
    """Read and check a folder of CSV files, an XLSX or a zip of either, or what was decoded of it before.

    `known` is what the database has already, so that a workbook of new orders need not repeat the parts.
    `shift_days` moves every date of the workbook, closures included; whole weeks keep the days of the week.
    """
    known = known or Known()
    book = source if isinstance(source, RawBook) else read_raw(source)
    findings = Findings(list(book.problems), list(book.warnings))
    if not book.opened:
        return findings.problems
    found = {name: _read_sheet(book.sheets[name], SHEETS[name], findings) for name in SHEETS if name in book.sheets}
    _missing_sheets(book, known, findings)
    parts: Sequence[Any] = found.get("parts", ())
    pictures = take_pictures(parts, book, findings)
    workbook = Workbook(**found, pictures=pictures, given=frozenset(found))
    workbook = validate(workbook, known, findings)
    if findings.problems:
        return _in_order(findings.problems)
    return replace(
        _shifted(workbook, shift_days), warnings=tuple(findings.warnings), questions=merged(findings.questions)
    )


def _read_sheet(raw: RawSheet, sheet: Sheet, findings: Findings) -> tuple[Any, ...]:
    heads = match_heads(raw, sheet, findings)
    if heads is None:
        return ()
    read: list[Row] = []
    for number, cells in raw.cells():
        values = _read_row(sheet, number, cells, heads, raw.decimal_mark, findings)
        if values is not None:
            read.append(sheet.record(row=number, **values))
    _refuse_twins(read, sheet, findings)
    return tuple(read)


def _read_row(
    sheet: Sheet,
    number: int,
    cells: Mapping[str, Raw],
    heads: Mapping[str, str],
    mark: DecimalMark,
    findings: Findings,
) -> dict[str, Any] | None:
    read = [
        _read_cell(column, cells.get(heads.get(column.name, "")), mark, sheet.name, number, findings)
        for column in (*sheet.columns, *sheet.parameters)
    ]
    values: dict[str, Any] = {column.attribute: value for column, value in zip(sheet.columns, read, strict=False)}
    if sheet.parameters:
        given = zip(sheet.parameters, read[len(sheet.columns) :], strict=True)
        values["parameters"] = tuple((one.name, str(value)) for one, value in given if value not in (_BAD, ""))
    if all(value is not _BAD for value in read):
        return values
    good = {name: value for name, value in values.items() if value is not _BAD}
    findings.half_read.setdefault(sheet.name, []).append(good)
    return None


def _read_cell(column: Column, cell: Raw, mark: DecimalMark, sheet: str, number: int, findings: Findings) -> Any:
    try:
        # A lone apostrophe or a no-break space shows nothing either.
        if is_blank(cell) or (isinstance(cell, str) and not to_text(cell)):
            if not column.needed:
                return column.default
            raise BadCell("is empty", "this column is needed in every row")
        value = column.parse(cell, mark)
        ways = two_ways(cell, mark)
        if ways is not None and str(value).lstrip("-").isdecimal():
            few, many = f"{ways.small.normalize():f}", f"{ways.large:f}"
            wrong = f"can mean two things, {few} or {many}"
            right = f"confirmed, it is {many}, as is usual in such a file; write {few} or {many} to say it outright"
            findings.ask(sheet, number, column.name, cell, wrong, right, "taken")
        return value
    except BadCell as bad:
        findings.wrong(sheet, number, column.name, cell, bad.wrong, bad.right)
        return _BAD


def _refuse_twins(read: Sequence[Row], sheet: Sheet, findings: Findings) -> None:
    first: dict[tuple[object, ...], int] = {}
    names = headings(sheet)
    for row in read:
        key = tuple(getattr(row, attribute) for attribute in sheet.key)
        if key in first:
            shown = " / ".join("pack" if value is None else str(value) for value in key)
            column = ", ".join(names[attribute] for attribute in sheet.key)
            wrong = f"is there already in row {first[key]}"
            findings.wrong(sheet.name, row.row, column, shown, wrong, "leave one of the two rows")
        else:
            first[key] = row.row


def _missing_sheets(book: RawBook, known: Known, findings: Findings) -> None:
    """A sheet is needed while nothing of its kind is known yet."""
    there_already = {"sites": bool(known.sites), "parts": bool(known.parts), "routings": bool(known.parts)}
    left_aside = [warning.sheet for warning in book.warnings if warning.wrong == "is not a sheet of the workbook"]
    broken = {problem.sheet.casefold() for problem in book.problems}
    needed = [name for name, sheet in SHEETS.items() if sheet.needed]
    findings.unread |= broken & set(SHEETS)
    for name in needed:
        if name in book.sheets or there_already[name] or name in broken:
            continue
        close = nearest_word(name, left_aside, 1)
        right = f"call the sheet {close[0]} {name}" if close else "sites, parts and routings are needed"
        findings.wrong(name, None, "", "", "is a sheet that is needed and not there", right)
        findings.unread.add(name)
    if not book.sheets and not findings.problems:
        findings.wrong(WHOLE_FILE, None, "", "", "holds no sheet of a workbook", "name them " + ", ".join(SHEETS))


def _in_order(problems: list[Problem]) -> list[Problem]:
    """By sheet and row, as one works through them; a hopeless file is cut off, and says so."""
    rank = {name: place for place, name in enumerate((WHOLE_FILE, *SHEETS))}
    ordered = sorted(problems, key=lambda each: (rank.get(each.sheet, -1), each.row or 0))
    if len(ordered) <= PROBLEMS_MAX:
        return ordered
    more = Problem(WHOLE_FILE, None, "", "", f"has {len(ordered) - PROBLEMS_MAX:,} more faults", "mend these first")
    return [*ordered[:PROBLEMS_MAX], more]


def _shifted(workbook: Workbook, days: int) -> Workbook:
    if not days:
        return workbook
    by = dt.timedelta(days=days)
    moved: dict[str, Any] = {}
    for name, sheet in SHEETS.items():
        if sheet.dates:
            moved[name] = tuple(_moved(row, sheet.dates, by) for row in workbook.sheet(name))
    return replace(workbook, **moved)


def _moved(row: Row, names: Sequence[str], by: dt.timedelta) -> Row:
    changes: dict[str, Any] = {name: value + by for name in names if isinstance(value := getattr(row, name), dt.date)}
    moved: Row = replace(row, **changes)
    return moved
