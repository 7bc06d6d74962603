"""Dates as people and spreadsheets write them; one that can be read two ways is refused."""

from __future__ import annotations

import datetime as dt
import re

from traveller.exchange.workbook.numbers import BadCell
from traveller.exchange.workbook.raw import DecimalMark, Raw, Unusable
from traveller.rules.moments import EARLIEST, LATEST

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]00:00(?::00(?:\.0+)?)?)?")
_DOTTED = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})")
_SLASHED = re.compile(r"(\d{1,2})[/\-](\d{1,2})[/\-](\d{4})")
_WORDED = re.compile(r"(\d{1,2})\.?[ \-]([A-Za-z]{3})[a-z]*\.?[ \-](\d{4})")
_RIGHT = "write it as year-month-day, for example 2026-12-24"


def to_date(cell: Raw, mark: DecimalMark = None) -> dt.date:
    """A calendar day: ISO, 24.12.2026, 24 Dec 2026, a spreadsheet's date cell, or slashes that read one way."""
    if isinstance(cell, Unusable):
        raise BadCell(cell.wrong, cell.right)
    if isinstance(cell, dt.datetime):
        if cell.time() != dt.time(0):
            raise BadCell("holds a time of day as well", "write the day alone")
        found = cell.date()
    elif isinstance(cell, dt.date):
        found = cell
    elif isinstance(cell, str):
        found = _from_text(" ".join(cell.split()))
    elif isinstance(cell, int | float) and not isinstance(cell, bool):
        raise BadCell("is a plain number, not a date", "format the cell as a date, or " + _RIGHT)
    else:
        raise BadCell("is not a date", _RIGHT)
    if not EARLIEST.date() <= found <= LATEST.date():
        raise BadCell("lies too far from today", f"write a day from {EARLIEST.date()} to {LATEST.date()}")
    return found


def _from_text(text: str) -> dt.date:
    if match := _ISO.fullmatch(text):
        year, month, day = (int(part) for part in match.groups())
        return _day(year, month, day)
    if match := _DOTTED.fullmatch(text):
        day, month, year = (int(part) for part in match.groups())
        return _day(year, month, day)
    if (match := _WORDED.fullmatch(text)) and match[2].lower() in _MONTHS:
        return _day(int(match[3]), _MONTHS.index(match[2].lower()) + 1, int(match[1]))
    if match := _SLASHED.fullmatch(text):
        first, second, year = (int(part) for part in match.groups())
        if first <= 12 and second <= 12 and first != second:
            one, other = _day(year, first, second), _day(year, second, first)
            raise BadCell(
                f"can be read as {_in_words(one)} or as {_in_words(other)}",
                f"write {one.isoformat()} or {other.isoformat()}",
            )
        return _day(year, second, first) if first > 12 else _day(year, first, second)
    raise BadCell("is not a date", _RIGHT)


def _day(year: int, month: int, day: int) -> dt.date:
    try:
        return dt.date(year, month, day)
    except ValueError:
        raise BadCell("is a day that no calendar has", _RIGHT) from None


def _in_words(day: dt.date) -> str:
    return f"{day.day} {_MONTHS[day.month - 1].capitalize()} {day.year}"
