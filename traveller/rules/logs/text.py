"""Which characters are these bytes, and what separates the cells?"""

from __future__ import annotations

import codecs
import csv
import re
from collections import Counter

from traveller.rules.logs.found import NotALog

__all__ = [
    "BLANKS",
    "MOST_BYTES",
    "MOST_COLUMNS",
    "MOST_LINE_CHARS",
    "MOST_ROWS",
    "Table",
    "decoded",
    "delimiter_of",
    "spaced_table",
    "table",
]

# Two channels once a second for a week are about 25 MB; what is larger is no log of one load.
MOST_BYTES = 40_000_000
# Three days at a reading a second, 64 channels: more is not one load, and only fills the memory of who reads it.
MOST_ROWS, MOST_COLUMNS, MOST_LINE_CHARS = 300_000, 64, 4_000
_PACKED = (b"PK\x03\x04", b"\x1f\x8b", b"7z\xbc\xaf", b"Rar!", b"BZh", b"\xfd7zXZ")
_BOMS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
# Two or more first, so that a date and its time, or the words of a name, stay together.
BLANKS = (re.compile(r"[ \t\u00a0]{2,}"), re.compile(r"[ \t\u00a0]+"))
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1a\x1c-\x1f]")

Table = list[list[str]]


def decoded(data: bytes) -> str | NotALog:
    """The text of a file, in UTF-8, UTF-16 or the code page of old loggers; lines end in one way."""
    if len(data) > MOST_BYTES:
        return NotALog("log.too_large", {"bytes": len(data), "most": MOST_BYTES})
    if not data.strip():
        return NotALog("log.empty")
    if data.startswith(_PACKED):
        return NotALog("log.packed")
    text = _as_text(data)
    if text is None or len(_CONTROL.findall(text[:100_000])) > 0:
        return NotALog("log.binary")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _as_text(data: bytes) -> str | None:
    for mark, name in _BOMS:
        if data.startswith(mark):
            return data.decode(name, errors="replace")
    # UTF-16 without its mark: every other byte of plain text is nothing.
    head = data[:400]
    for odd, name in ((1, "utf-16-le"), (0, "utf-16-be")):
        if len(head) > 3 and not any(head[odd::2]) and all(head[1 - odd :: 2]):
            return data.decode(name, errors="replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        # The degree sign of many loggers. A file cut in the middle of a character also comes this way.
        return data.decode("cp1252", errors="replace")


def delimiter_of(lines: list[str]) -> str | None:
    """Tab, semicolon, upright stroke or comma: the one that parts most of the sampled lines into equally many cells."""
    step = max(1, len(lines) // 200)
    sample = [line for line in lines[::step] if line.strip()]
    best: tuple[int, str] | None = None
    for sign in ("\t", ";", "|", ","):
        counts = Counter(line.count(sign) for line in sample if sign in line)
        agreeing = max(counts.values(), default=0)
        # A comma may be the decimal sign of a file parted by semicolons: it must win clearly.
        if agreeing > (best[0] * 2 if best else 0):
            best = (agreeing, sign)
    return best[1] if best else None


def table(text: str) -> tuple[Table, list[int], str] | NotALog:
    """The cells of each row, the line each row ends on, and the delimiter."""
    if fault := _oversize(text):
        return fault
    lines = text.split("\n")
    sign = delimiter_of(lines)
    if sign is None:
        return NotALog("log.no_columns")
    widest = max(range(len(lines)), key=lambda at: lines[at].count(sign))
    if (columns := lines[widest].count(sign) + 1) > MOST_COLUMNS:
        return NotALog("log.too_wide", {"line": widest + 1, "columns": columns, "most": MOST_COLUMNS})
    reader = csv.reader(lines, delimiter=sign)
    try:
        rows = list(reader)
    except csv.Error:
        return NotALog("log.no_columns")
    if len(rows) == len(lines):
        return rows, list(range(1, len(rows) + 1)), sign
    return _by_line(lines, sign)


def spaced_table(text: str, apart: re.Pattern[str], most: int = MOST_ROWS) -> tuple[Table, list[int], str] | None:
    """The cells of each of the first `most` rows where blanks part them; None for what is too large to take apart.

    For a file in which no other sign makes columns of times and temperatures.
    """
    if _oversize(text):
        return None
    lines = text.split("\n")[:most]
    rows = [apart.split(line.strip()) for line in lines]
    return (rows, list(range(1, len(rows) + 1)), " ") if max(map(len, rows)) <= MOST_COLUMNS else None


def _oversize(text: str) -> NotALog | None:
    """More rows than a load has, or a line that no logger writes: found before anything is taken apart."""
    rows = text.count("\n") + (not text.endswith("\n"))
    if rows > MOST_ROWS:
        return NotALog("log.too_many_rows", {"rows": rows, "most": MOST_ROWS})
    start, number = 0, 1
    while start < len(text):
        end = text.find("\n", start)
        end = len(text) if end < 0 else end
        if end - start > MOST_LINE_CHARS:
            return NotALog("log.line_too_long", {"line": number, "characters": end - start, "most": MOST_LINE_CHARS})
        start, number = end + 1, number + 1
    return None


def _by_line(lines: list[str], sign: str) -> tuple[Table, list[int], str]:
    """A quote that is never closed swallows lines: then a quote is a character like any other."""
    rows = list(csv.reader(lines, delimiter=sign, quoting=csv.QUOTE_NONE))
    return rows, list(range(1, len(rows) + 1)), sign
