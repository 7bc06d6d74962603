"""An empty workbook that explains itself: every sheet with its headings, a note at each, and two sheets to look at."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

from traveller.exchange.workbook.reference import ColumnSaid, kinds_said, sheets_said
from traveller.exchange.workbook.sheets import SHEETS, SHOWN_ONLY
from traveller.exchange.workbook.writing import csv_table, text_cell

__all__ = ["template_xlsx", "write_template_folder"]

_REFERENCE_HEAD = ("sheet or kind of check", "column", "empty", "meaning", "takes", "unit", "allowed words", "example")
# Of a note's box in points, wide enough for its longest sentence.
_NOTE_WIDTH, _NOTE_HEIGHT = 320, 220
_WIDTHS = (22, 18, 20, 90, 40, 26, 40, 26)


def template_xlsx() -> bytes:
    """The template as one XLSX, for a download."""
    # Loaded where it is asked for: it takes its time, and 4 MB in each process of a server.
    openpyxl, cells, notes = (
        import_module("openpyxl"), import_module("openpyxl.cell.cell"), import_module("openpyxl.comments")
    )  # fmt: skip
    book = openpyxl.Workbook(write_only=True)
    for name, head in _heads().items():
        page = book.create_sheet(name)
        page.append([_with_note(cells, notes, page, column) for column in head])
    for name, rows in zip(SHOWN_ONLY, (_reference_rows(), _example_rows()), strict=True):
        page = book.create_sheet(name)
        for number, width in enumerate(_WIDTHS if name == "reference" else ()):
            page.column_dimensions["ABCDEFGH"[number]].width = width
        for row in rows:
            page.append([text_cell(cells, page, value) for value in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def write_template_folder(folder: Path) -> list[Path]:
    """The template as CSV files: headings alone, the reference and the examples beside them."""
    folder.mkdir(parents=True, exist_ok=True)
    tables: dict[str, list[Sequence[str]]] = {
        name: [[column.name for column in head]] for name, head in _heads().items()
    }
    tables |= {"reference": list(_reference_rows()), "examples": list(_example_rows())}
    written = []
    for name, rows in tables.items():
        path = folder / f"{name}.csv"
        path.write_bytes(csv_table(rows))
        written.append(path)
    return written


def _heads() -> dict[str, tuple[ColumnSaid, ...]]:
    """Each sheet's columns as they are written out; a check's further columns with the kinds that read them."""
    said = {sheet.name: {column.name: column for column in sheet.columns} for sheet in sheets_said()}
    for name, column in _of_kinds().items():
        said["checks"].setdefault(name, column)
    return {name: tuple(said[name][column.name] for column in sheet.all_columns) for name, sheet in SHEETS.items()}


def _of_kinds() -> dict[str, ColumnSaid]:
    """Each column that a kind of check reads, with what it means to each of them."""
    meant: dict[str, dict[str, list[str]]] = {}
    for kind in kinds_said():
        for column in kind.columns:
            meant.setdefault(column.name, {}).setdefault(column.meaning, []).append(kind.name)
    return {
        name: ColumnSaid(
            name,
            "by the kind of check",
            " ".join(f"{', '.join(kinds)}: {meaning}" for meaning, kinds in by_kind.items()),
            "", "", (), "",
        )
        for name, by_kind in meant.items()
    }  # fmt: skip


def _note(column: ColumnSaid) -> str:
    lines = [column.meaning, f"({column.empty})"]
    lines += [f"Takes {', '.join(column.words) or column.takes}"] if column.words or column.takes else []
    lines += [f"Unit: {column.unit}"] if column.unit else []
    lines += [f"Example: {column.example}"] if column.example else []
    return "\n".join(lines)


def _with_note(cells: Any, notes: Any, page: object, column: ColumnSaid) -> object:
    cell = text_cell(cells, page, column.name)
    cell.comment = notes.Comment(_note(column), "", height=_NOTE_HEIGHT, width=_NOTE_WIDTH)
    return cell


def _reference_rows() -> Iterator[Sequence[str]]:
    yield _REFERENCE_HEAD
    for sheet in sheets_said():
        for column in sheet.columns:
            yield _reference_row(sheet.name, column)
    for kind in kinds_said():
        yield (f"check {kind.name}", "", "", kind.about, f"scope: {', '.join(kind.scopes)}", "", "", "")
        for column in kind.columns:
            yield _reference_row(f"check {kind.name}", column)


def _reference_row(place: str, column: ColumnSaid) -> Sequence[str]:
    words = ", ".join(column.words)
    return (place, column.name, column.empty, column.meaning, column.takes, column.unit, words, column.example)


def _example_rows() -> Iterator[Sequence[str]]:
    """A row of the sheet checks for each kind, under the headings of that sheet: to be copied there."""
    names = [column.name for column in SHEETS["checks"].all_columns]
    yield names
    for kind in kinds_said():
        yield [kind.example.get(name, "") for name in names]
