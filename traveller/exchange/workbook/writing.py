"""A workbook back to files: a folder of CSV, or one XLSX with its pictures beside it."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from importlib import import_module
from pathlib import Path, PurePosixPath
from typing import Any

from traveller.exchange.workbook.cells import is_guarded, needs_guard
from traveller.exchange.workbook.columns import Column, Saved
from traveller.exchange.workbook.rows import CheckRow, Row, Workbook
from traveller.exchange.workbook.sheets import SHEETS
from traveller.exchange.workbook.tables import Sheet

__all__ = ["as_zip", "csv_table", "text_cell", "write_csv_folder", "write_xlsx"]

# The same workbook gives the same bytes, whenever it is written.
_ZIP_DAY = (1980, 1, 1, 0, 0, 0)


def write_csv_folder(workbook: Workbook, folder: Path) -> list[Path]:
    """One CSV file a sheet (UTF-8, commas, decimal points), pictures under their own names."""
    folder.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    for name, content in _csv_files(workbook):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        written.append(path)
    return written


def as_zip(workbook: Workbook) -> bytes:
    """The same folder as one zip, for a download."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in _csv_files(workbook):
            archive.writestr(zipfile.ZipInfo(name, _ZIP_DAY), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def write_xlsx(workbook: Workbook, path: Path) -> list[Path]:
    """One XLSX; the pictures are written beside it."""
    # Loaded where it is asked for: it takes its time, and 4 MB in each process of a server.
    openpyxl, cells = import_module("openpyxl"), import_module("openpyxl.cell.cell")
    book = openpyxl.Workbook(write_only=True)
    for sheet in SHEETS.values():
        page = book.create_sheet(sheet.name)
        page.append([column.name for column in sheet.all_columns])
        for row in workbook.sheet(sheet.name):
            page.append([_xlsx_cell(cells, page, value) for value in saved_cells(sheet, row)])
    path.parent.mkdir(parents=True, exist_ok=True)
    book.save(path)
    written = [path]
    for name, content in _safe_pictures(workbook.pictures):
        beside = path.parent / name
        beside.parent.mkdir(parents=True, exist_ok=True)
        beside.write_bytes(content)
        written.append(beside)
    return written


def saved_cells(sheet: Sheet, row: Row) -> Iterator[Saved]:
    """The values of one row in the order of the sheet's columns."""
    parameters = dict(row.parameters) if isinstance(row, CheckRow) else {}
    for column in sheet.all_columns:
        if column in sheet.parameters:
            yield _saved(column, parameters.get(column.name, ""))
        else:
            yield _saved(column, getattr(row, column.attribute))


def _saved(column: Column, value: object) -> Saved:
    if column.dump is not None:
        return column.dump(value)
    if value is None or isinstance(value, str | int | Decimal | dt.date):
        return value
    raise TypeError(f"column {column.name} cannot write {type(value).__name__}")


def _csv_files(workbook: Workbook) -> Iterator[tuple[str, bytes]]:
    for sheet in SHEETS.values():
        head = [column.name for column in sheet.all_columns]
        rows = (list(saved_cells(sheet, row)) for row in workbook.sheet(sheet.name))
        yield f"{sheet.name}.csv", csv_table([head, *rows])
    yield from _safe_pictures(workbook.pictures)


def csv_table(rows: Iterable[Sequence[Saved]]) -> bytes:
    """Rows as a CSV file (UTF-8, commas, decimal points), no cell of which a spreadsheet would run."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows([_csv_cell(value) for value in row] for row in rows)
    # The byte order mark is what makes spreadsheets read UTF-8 as UTF-8.
    return out.getvalue().encode("utf-8-sig")


def _csv_cell(value: Saved) -> str:
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, dt.date):
        return value.isoformat()
    # A bare carriage return would end the row: Python's writer puts it into no quotation marks.
    text = "" if value is None else str(value).replace("\r\n", "\n").replace("\r", "\n")
    # A spreadsheet would run it as a formula; the reader takes the apostrophe off again.
    return f"'{text}" if isinstance(value, str) and needs_guard(text) else text


def _xlsx_cell(cells: Any, page: object, value: Saved) -> object:
    if isinstance(value, Decimal):
        # As a number where a float holds it exactly, so that people can reckon with it.
        return float(value) if Decimal(repr(float(value))) == value else str(value)
    return text_cell(cells, page, value) if isinstance(value, str) else value


def text_cell(cells: Any, page: object, value: str) -> Any:
    """A cell of text, which is never run. `cells` is the module openpyxl.cell.cell."""
    # An apostrophe that the reader would take for a guard is written twice.
    text = f"'{value}" if is_guarded(value) else value
    cell = cells.WriteOnlyCell(page, cells.ILLEGAL_CHARACTERS_RE.sub("", text))
    cell.data_type = "s"
    return cell


def _safe_pictures(pictures: Mapping[str, bytes]) -> Iterator[tuple[str, bytes]]:
    for name, content in sorted(pictures.items()):
        path = PurePosixPath(name)
        if path.is_absolute() or ".." in path.parts:
            raise ValueError(f"picture {name} leads out of the folder")
        yield name, content
