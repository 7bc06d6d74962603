"""Numbers as people and spreadsheets write them, in either decimal habit; never guessed where two readings differ."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal

from traveller.exchange.workbook.raw import DecimalMark, Raw, Unusable

_EXACT_MAX = 10**15
_SPACED = re.compile(r"(?<=\d)[ '’_](?=\d{3}(?:\D|$))")
_PLAIN = re.compile(r"[+-]?\d+(?:\.\d+)?")
_DECIMALS_MAX = 9


class BadCell(ValueError):
    """A cell that cannot be read as its column asks: what is wrong, and what would be right."""

    def __init__(self, wrong: str, right: str) -> None:
        super().__init__(wrong)
        self.wrong = wrong
        self.right = right


def plain_number(value: int | float) -> str:
    """A spreadsheet's number as it is shown: 12.0 is 12."""
    if abs(value) >= _EXACT_MAX:
        raise BadCell(
            "has more than 15 digits, and the spreadsheet has lost the last ones",
            "format the cell as text and type it again",
        )
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return format(Decimal(repr(round(value, _DECIMALS_MAX))), "f")  # a computed 0.1 + 0.2 is 0.3


def to_decimal(cell: Raw, mark: DecimalMark) -> Decimal:
    """The number in a cell. `mark` is the decimal mark that the file is known to use, None when nobody knows.

    "1.234,5" and "1,234.5" can be read only one way. "1,234" can be read two ways: the file's own habit decides
    (a file separated by commas writes decimals with a point, one separated by semicolons with a comma), and where
    there is none the cell is refused.
    """
    if isinstance(cell, bool) or cell is None:
        raise BadCell("is not a number", "write a number")
    if isinstance(cell, Unusable):
        raise BadCell(cell.wrong, cell.right)
    if isinstance(cell, dt.datetime | dt.date | dt.time | dt.timedelta):
        raise BadCell("the spreadsheet made a date of it", "format the cell as a number and type it again")
    text = plain_number(cell) if isinstance(cell, int | float) else _to_plain(cell, mark)
    if not _PLAIN.fullmatch(text):
        raise BadCell("is not a number", "write digits only, the unit has its own column")
    number = Decimal(text)
    if abs(number) >= _EXACT_MAX:
        raise BadCell("is too large", "write at most 15 digits")
    exponent = number.normalize().as_tuple().exponent
    if isinstance(exponent, int) and -exponent > _DECIMALS_MAX:
        raise BadCell(f"has more than {_DECIMALS_MAX} decimals", "round it")
    return number


def has_thousands_mark(cell: Raw, mark: DecimalMark) -> bool:
    """Is it a number like "1,300", which only the file's habit reads as thousands?"""
    if not isinstance(cell, str) or mark is None:
        return False
    other = "," if mark == "." else "."
    return re.fullmatch(rf"[+-]?[1-9]\d{{0,2}}{re.escape(other)}\d{{3}}", cell.strip().lstrip("'")) is not None


def _to_plain(cell: str, mark: DecimalMark) -> str:
    """Digits with a point for the decimals, or the text unchanged when it is no number."""
    text = cell.strip().replace("\u00a0", " ").replace("\u202f", " ").replace("\u2212", "-").replace("\u2009", " ")
    text = _SPACED.sub("", text.lstrip("'"))
    marks = [ch for ch in text if ch in ".,"]
    if not marks:
        return text
    if len(set(marks)) == 2:
        return _grouped(text, thousands=marks[0], point=marks[-1])
    only = marks[0]
    if len(marks) > 1:
        return _grouped(text, thousands=only, point=None)
    if not re.fullmatch(rf"[+-]?[1-9]\d{{0,2}}{re.escape(only)}\d{{3}}", text):
        return text.replace(only, ".")
    if mark is None:
        whole, rest = text.split(only)
        raise BadCell(
            "can be read in two ways",
            f"write {whole}{rest} or {whole}{only}{rest}0, or store the cell as a number",
        )
    return text.replace(only, "." if only == mark else "")


def _grouped(text: str, *, thousands: str, point: str | None) -> str:
    """A number with thousands marks, checked to stand at every third digit."""
    decimals = rf"(?:{re.escape(point)}\d+)?" if point else ""
    if not re.fullmatch(rf"[+-]?\d{{1,3}}(?:{re.escape(thousands)}\d{{3}})+{decimals}", text):
        return text
    text = text.replace(thousands, "")
    return text.replace(point, ".") if point else text
