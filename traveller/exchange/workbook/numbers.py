"""Numbers as people and spreadsheets write them, in either decimal habit; never guessed where two readings differ."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from decimal import Decimal

from traveller.exchange.workbook.raw import DecimalMark, Raw, Unusable
from traveller.rules.numbers import NotNumber, TwoWays, read_number

_EXACT_MAX = 10**15
_UNDERLINED = re.compile(r"(?<=\d)_(?=\d{3}(?:\D|$))")
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
    number = Decimal(plain_number(cell)) if isinstance(cell, int | float) else _typed(cell, mark)
    if abs(number) >= _EXACT_MAX:
        raise BadCell("is too large", "write at most 15 digits")
    exponent = number.normalize().as_tuple().exponent
    if isinstance(exponent, int) and -exponent > _DECIMALS_MAX:
        raise BadCell(f"has more than {_DECIMALS_MAX} decimals", "round it")
    return number


def two_ways(cell: Raw, mark: DecimalMark) -> TwoWays | None:
    """What a cell like "1,300" can mean, which only the file's habit reads as thousands; None where it is clear."""
    found = read_number(_text(cell), mark) if isinstance(cell, str) and mark is not None else None
    return found if isinstance(found, TwoWays) else None


def _text(cell: str) -> str:
    return _UNDERLINED.sub("", cell.strip().lstrip("'"))


def _typed(cell: str, mark: DecimalMark) -> Decimal:
    found = read_number(_text(cell), mark)
    if isinstance(found, NotNumber):
        wrong = _WRONG.get(found.why, ("is not a number", "write digits only, the unit has its own column"))
        raise BadCell(*wrong)
    if not isinstance(found, TwoWays):
        return found
    if mark is not None:
        return found.large
    few, many = (format(one, "f") for one in (found.small, found.large))
    few = few.replace(".", found.mark)
    raise BadCell("can be read in two ways", f"write {many} or {few}0, or store the cell as a number")


_WRONG: Mapping[str, tuple[str, str]] = {
    "two_signs": ("has two signs", "write one in front, or none"),
    "sign_behind": ("has its sign behind it", "write it in front, or none"),
    "odd_digits": ("has a fraction or a raised figure in it", "write it like 0.5"),
    "unfinished": ("ends with a mark", "write what comes after it, or leave the mark off"),
}
