"""What does the workbook's row say? Columns of a check read into numbers, every error collected."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from decimal import Decimal

from traveller.rules.checks.base import ParamError

__all__ = ["CheckCells", "plain"]

_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")
# 1,250 may be one and a quarter or twelve hundred and fifty: a limit off by a thousand proves nothing.
_AMBIGUOUS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
_YES = frozenset({"yes", "y", "true", "1", "x"})
_NO = frozenset({"", "no", "n", "false", "0"})


def plain(number: Decimal) -> str:
    """The number without exponent and without idle zeros: 15, 0.127, -40."""
    text = format(number, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


class CheckCells:
    """One check's row: asks for columns one after the other and remembers what was wrong."""

    def __init__(self, raw: Mapping[str, str]) -> None:
        self._raw = raw
        self.errors: list[ParamError] = []

    def text(self, column: str) -> str:
        """The cell with blanks trimmed; an absent column is an empty cell."""
        return " ".join((self._raw.get(column) or "").split())

    def wrong(self, column: str, wanted: str) -> None:
        """Remember that this cell cannot be used."""
        self.errors.append(ParamError(column, self.text(column), wanted))

    def number(self, column: str, wanted: str, *, least: Decimal | None = None) -> Decimal | None:
        """A decimal with point or comma; None when the cell is empty or wrong."""
        found = self.text(column)
        if not found:
            return None
        if _AMBIGUOUS.fullmatch(found):
            whole, part = found.split(",")
            self.wrong(column, f"{whole}.{part} or {whole}{part}: the comma could mean either")
            return None
        if not _NUMBER.fullmatch(found):
            self.wrong(column, wanted)
            return None
        value = Decimal(found.replace(",", "."))
        if least is not None and value < least:
            self.wrong(column, f"{wanted}, {plain(least)} or more")
            return None
        return value

    def whole(self, column: str, default: int) -> int:
        """A whole number of 1 or more, or the default where the cell is empty."""
        found = self.text(column)
        if not found:
            return default
        if not re.fullmatch(r"[0-9]{1,9}", found) or int(found) < 1:
            self.wrong(column, "a whole number, 1 or more")
            return default
        return int(found)

    def yes(self, column: str) -> bool:
        """Yes or no; empty is no."""
        found = self.text(column).casefold()
        if found not in _YES and found not in _NO:
            self.wrong(column, "yes or no")
        return found in _YES

    def unit(self, column: str, allowed: Collection[str], default: str) -> str:
        """One of the allowed units, in any case; the default where the cell is empty."""
        found = self.text(column)
        if not found:
            return default
        for unit in allowed:
            if unit.casefold() == found.casefold():
                return unit
        self.wrong(column, " or ".join(allowed))
        return default
