"""A folder of CSV files, an XLSX or a zip of either, to raw sheets."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path, PurePosixPath

from traveller.exchange.workbook import xlsx
from traveller.exchange.workbook.folders import Folder, LoneFile, Refused, Upload, open_source
from traveller.exchange.workbook.problems import WHOLE_FILE, Problem, nearest
from traveller.exchange.workbook.raw import DecimalMark, Raw, RawBook, RawSheet, Unusable, is_blank

ROWS_MAX = 20_000
COLUMNS_MAX = 60


def read_files(source: Path | str | Upload, sheet_names: Sequence[str]) -> tuple[RawBook, Folder | None]:
    """All sheets of the source that have a known name, and the folder to look for pictures in."""
    book = RawBook()
    try:
        folder, shown = open_source(source)
        names = folder.names()
        top = [name for name in names if "/" not in name]
        books = [name for name in top if name.lower().endswith(".xlsx")]
        tables = [name for name in top if name.lower().endswith((".csv", ".tsv", ".txt"))]
        if len(books) > 1 or (books and tables):
            both = ", ".join(books + tables)
            raise Refused(shown, f"holds more than one workbook ({both})", "leave one XLSX, or only CSV files")
        if not books and not tables:
            raise Refused(shown, "holds no sheets", "put sites.csv, parts.csv and so on straight into it")
        if books:
            found = xlsx.read_sheets(folder.read(books[0]), books[0], ROWS_MAX, COLUMNS_MAX)
            for title, rows in found:
                _add(book, title, books[0], rows, None, sheet_names)
            book.has_folder = not (isinstance(folder, LoneFile) and type(folder) is LoneFile)
        for name in tables:
            _add_csv(book, folder, name, sheet_names)
    except Refused as refusal:
        book.problems.append(Problem(WHOLE_FILE, None, "", refusal.found, refusal.wrong, refusal.right))
        return book, None
    return book, folder


def _add_csv(book: RawBook, folder: Folder, name: str, sheet_names: Sequence[str]) -> None:
    title = PurePosixPath(name).stem
    try:
        text, odd = decode(folder.read(name))
        mark, rows = table(text)
    except Refused as refusal:
        book.problems.append(Problem(title, None, "", refusal.found, refusal.wrong, refusal.right))
        return
    if odd:
        book.warnings.append(Problem(title, None, "", name, odd, "look at the names with accents"))
    _add(book, title, name, rows, mark, sheet_names)


def _add(
    book: RawBook,
    title: str,
    file: str,
    rows: Iterable[tuple[int, tuple[Raw, ...]]],
    mark: DecimalMark,
    sheet_names: Sequence[str],
) -> None:
    """File one table under its sheet name; the first row that is not blank is the header."""
    name = title.strip().casefold()
    if name not in sheet_names:
        close = nearest(name, sheet_names, 1)
        hint = f"if it is meant, call it {close[0]}" if close else "it is left aside"
        book.warnings.append(Problem(title, None, "", "", "is not a sheet of the workbook", hint))
        return
    if name in book.sheets:
        book.problems.append(Problem(name, None, "", file, "is there twice", "leave one of them"))
        return
    filled = [(number, row) for number, row in rows if not all(is_blank(cell) for cell in row)]
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


def decode(content: bytes) -> tuple[str, str]:
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
                raise Refused("", "is damaged: its letters cannot be read", "save it again as CSV UTF-8") from None
    if b"\0" in content:
        raise Refused("", "is not a text file", "save the sheet as CSV UTF-8")
    try:
        return content.decode("utf-8"), ""
    except UnicodeDecodeError:
        pass
    try:
        return content.decode("cp1252"), "is not UTF-8 and was read as Windows-1252"
    except UnicodeDecodeError:
        raise Refused("", "has letters in an unknown encoding", "save it again as CSV UTF-8") from None


def table(text: str) -> tuple[DecimalMark, list[tuple[int, tuple[Raw, ...]]]]:
    """Rows of a CSV text with the numbers that a spreadsheet would show, and the decimal mark to expect."""
    delimiter, text = _delimiter(text)
    mark: DecimalMark = {",": ".", ";": ","}.get(delimiter)  # type: ignore[assignment]
    rows: list[tuple[int, tuple[Raw, ...]]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        for number, row in enumerate(reader, start=1):
            if len(rows) > ROWS_MAX + 1:
                break
            if len(row) > COLUMNS_MAX and any(cell.strip() for cell in row[COLUMNS_MAX:]):
                raise Refused("", f"row {number} has more than {COLUMNS_MAX} columns", "check the quotation marks")
            if row:
                rows.append((number, tuple(_cell(cell) for cell in row[:COLUMNS_MAX])))
    except csv.Error as fault:
        at = reader.line_num
        raise Refused("", f"cannot be read near line {at} ({fault})", "check the quotation marks there") from None
    return mark, rows


def _delimiter(text: str) -> tuple[str, str]:
    """What separates the cells of the head line; a leading "sep=;" line, which spreadsheets hide, is taken off."""
    first, _, rest = text.partition("\n")
    if first.strip().lower().startswith("sep=") and len(first.strip()) == 5:
        return first.strip()[4], rest
    head = next((line for line in text.splitlines() if line.strip()), "")
    counts = {delimiter: head.count(delimiter) for delimiter in (",", ";", "\t", "|")}
    best = max(counts, key=lambda delimiter: counts[delimiter])
    return (best if counts[best] else ","), text


def _cell(text: str) -> Raw:
    if len(text) > 1 and text.startswith("=") and not text.startswith("=="):
        return Unusable(text, "is a formula, not a value", "write the value")
    return text
