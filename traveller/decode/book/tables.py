"""A CSV file as spreadsheets write it: letters, separator, decimal mark, rows as a spreadsheet numbers them."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterator

from traveller.decode.book.bounds import COLUMNS_MAX, LINE_CHARACTERS_MAX, ROWS_MAX, BookRefused, Counted
from traveller.decode.book.cells import DecimalMark, Numbered, Raw, Unusable, as_text, is_blank

__all__ = ["letters", "table_rows"]


def letters(content: bytes) -> tuple[str, str]:
    """The text of a CSV file, and what was odd about its letters.

    A byte order mark decides; then UTF-8; what is not UTF-8 is taken for Windows-1252, the other thing that
    spreadsheets on Western systems write, and said so.
    """
    for mark, encoding in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if content.startswith(mark):
            try:
                return content.decode(encoding), ""
            except UnicodeDecodeError:
                raise BookRefused("", "is damaged: its letters cannot be read", "save it again as CSV UTF-8") from None
    if b"\0" in content:
        raise BookRefused("", "is not a text file", "save the sheet as CSV UTF-8")
    try:
        return content.decode("utf-8"), ""
    except UnicodeDecodeError:
        pass
    try:
        return content.decode("cp1252"), "is not UTF-8 and was read as Windows-1252"
    except UnicodeDecodeError:
        raise BookRefused("", "has letters in an unknown encoding", "save it again as CSV UTF-8") from None


def table_rows(text: str, counted: Counted | None = None) -> tuple[DecimalMark, list[Numbered]]:
    """The decimal mark to expect, and the rows that are not blank: one more than ROWS_MAX and a head at the most."""
    counted = counted or Counted()
    delimiter, text = _delimiter(text)
    mark: DecimalMark = {",": ".", ";": ","}.get(delimiter)  # type: ignore[assignment]
    rows: list[Numbered] = []
    reader = csv.reader(_lines(text), delimiter=delimiter, strict=True)
    try:
        for number, row in enumerate(reader, start=1):
            counted.add_places(1 + len(row))
            if len(row) > COLUMNS_MAX and any(cell.strip() for cell in row[COLUMNS_MAX:]):
                raise BookRefused("", f"row {number} has more than {COLUMNS_MAX} columns", "check the quotation marks")
            cells = tuple(_cell(cell) for cell in row[:COLUMNS_MAX])
            filled = sum(not is_blank(cell) for cell in cells)
            if filled:
                counted.add_cells(filled, sum(map(len, row[:COLUMNS_MAX])))
                rows.append((number, cells))
            if len(rows) > ROWS_MAX + 1:
                break
    except csv.Error as fault:
        at = reader.line_num
        raise BookRefused("", f"cannot be read near line {at} ({fault})", "check the quotation marks there") from None
    return mark, rows


def _lines(text: str) -> Iterator[str]:
    """Line by line, none of them longer than a sheet's could be: a separator is a cell, and a cell takes room."""
    for number, line in enumerate(io.StringIO(text, newline=""), start=1):
        if len(line) > LINE_CHARACTERS_MAX:
            wrong = f"line {number} has more than {LINE_CHARACTERS_MAX:,} letters"
            raise BookRefused("", wrong, "check the separators and quotation marks there")
        yield line


def _delimiter(text: str) -> tuple[str, str]:
    """What separates the cells of the head line; a leading "sep=;" line, which spreadsheets hide, is taken off."""
    first, _, rest = text.partition("\n")
    said = first.strip()
    if said.lower().startswith("sep=") and len(said) == 5 and said[4] != '"':
        return said[4], rest
    head = next((line for line in io.StringIO(text) if line.strip()), "")
    counts = {delimiter: head.count(delimiter) for delimiter in (",", ";", "\t", "|")}
    best = max(counts, key=lambda delimiter: counts[delimiter])
    return (best if counts[best] else ","), text


def _cell(text: str) -> Raw:
    if len(text) > 1 and text.startswith("=") and not text.startswith("=="):
        return Unusable(text[:200], "is a formula, not a value", "write the value")
    return as_text(text)
