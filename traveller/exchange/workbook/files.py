"""A folder of CSV files, an XLSX or a zip of either, to raw sheets and pictures; decoded in the child, once."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from traveller.decode.book.bounds import ROWS_MAX, BookRefused
from traveller.decode.book.cells import Numbered, rows_from_json
from traveller.exchange.workbook.asking import ask_child
from traveller.exchange.workbook.folders import Folder, Listed, Source, Upload, open_source
from traveller.exchange.workbook.pictures import bring_pictures
from traveller.exchange.workbook.problems import WHOLE_FILE, Problem, nearest_word
from traveller.exchange.workbook.raw import DecimalMark, RawBook, RawSheet, is_blank
from traveller.exchange.workbook.sheets import SHOWN_ONLY

__all__ = ["read_files"]


def read_files(source: Path | str | Upload, sheet_names: Sequence[str]) -> RawBook:
    """All sheets of the source that have a known name, and the pictures that they name; never raises for bytes."""
    book = RawBook()
    try:
        opened = open_source(source)
        asked = {"form": opened.form, "names": opened.names, "sheets": list(sheet_names)}
        facts, blobs = ask_child(opened.contents, asked, opened.shown)
        _take(book, facts["tables"], blobs, sheet_names)
        folder = _folder(opened, facts["names"])
        book.has_folder = folder is not None
        if folder is not None:
            bring_pictures(book, opened, folder)
    except BookRefused as refusal:
        book.problems.append(Problem(WHOLE_FILE, None, "", refusal.found, refusal.wrong, refusal.right))
        book.opened = False
    return book


def _folder(opened: Source, names: Sequence[str]) -> Folder | None:
    return Listed(names) if opened.form == "zip" else opened.folder


def _take(book: RawBook, tables: Sequence[dict[str, Any]], blobs: Sequence[bytes], sheet_names: Sequence[str]) -> None:
    for table, blob in zip(tables, blobs, strict=True):
        if refused := table["refused"]:
            book.problems.append(Problem(table["title"], None, "", *refused))
            continue
        if odd := table["odd"]:
            book.warnings.append(
                Problem(table["title"], None, "", table["file"], odd, "look at the names with accents")
            )
        _add(book, table["title"], table["file"], rows_from_json(blob), table["mark"], sheet_names)


def _add(
    book: RawBook,
    title: str,
    file: str,
    filled: Sequence[Numbered],
    mark: DecimalMark,
    sheet_names: Sequence[str],
) -> None:
    """File one table under its sheet name; the first of its rows, none of which is blank, is the header."""
    name = title.strip().casefold()
    if name in SHOWN_ONLY:
        return
    if name not in sheet_names:
        close = nearest_word(name, sheet_names, 1)
        hint = f"if it is meant, call it {close[0]}" if close else "it is left aside"
        book.warnings.append(Problem(title, None, "", "", "is not a sheet of the workbook", hint))
        return
    if name in book.sheets:
        book.problems.append(Problem(name, None, "", file, "is there twice", "leave one of them"))
        return
    if len(filled) > ROWS_MAX:
        wrong = f"has more than {ROWS_MAX:,} rows"
        book.problems.append(Problem(name, None, "", file, wrong, "split the workbook and import one after the other"))
        return
    header = tuple("" if is_blank(cell) else _header_word(str(cell)) for cell in filled[0][1]) if filled else ()
    twice = sorted({word for word in header if word and header.count(word) > 1})
    for word in twice:
        number = filled[0][0]
        book.problems.append(Problem(name, number, word, word, "is the head of two columns", "leave one of them"))
    book.sheets[name] = RawSheet(name, file, header, tuple(filled[1:]), mark)


def _header_word(text: str) -> str:
    return "_".join(text.replace("\u00a0", " ").replace("\ufeff", "").casefold().replace("-", " ").split())
