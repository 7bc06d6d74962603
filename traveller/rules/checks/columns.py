"""What does the workbook's row say? Columns of a check read into numbers, every error collected."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from decimal import Decimal

from traveller.rules.checks.base import ParamError
from traveller.rules.numbers import NotNumber, TwoWays, read_number

__all__ = ["CheckCells", "plain", "same_word"]

_YES = frozenset({"yes", "y", "true", "1", "x"})
_NO = frozenset({"", "no", "n", "false", "0"})


def plain(number: Decimal) -> str:
    """The number without exponent and without idle zeros: 15, 0.127, -40."""
    text = format(number, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def same_word(one: str, other: str) -> bool:
    """Equal in any case, spacing and way of composing accents."""

    def bare(word: str) -> str:
        return " ".join(unicodedata.normalize("NFKC", word).casefold().split())

    return bare(one) == bare(other)


class CheckCells:
    """One check's row: asks for columns one after the other and remembers what was wrong."""

    def __init__(self, raw: Mapping[str, str], defaults: Mapping[str, str] | None = None) -> None:
        self._raw = raw
        self._defaults = defaults or {}
        self.errors: list[ParamError] = []

    def given(self, column: str) -> str:
        """The cell as it was typed, with blanks trimmed; an absent column is an empty cell."""
        return " ".join((self._raw.get(column) or "").split())

    def text(self, column: str) -> str:
        """The cell as it was typed, or what an empty one stands for."""
        return self.given(column) or self._defaults.get(column, "")

    def wrong(self, column: str, wanted: str, why: str = "") -> None:
        """Remember that this cell cannot be used, what would be right, and why where that needs saying."""
        self.errors.append(ParamError(column, self.given(column), wanted, why))

    def is_wrong(self, *columns: str) -> bool:
        """Whether one of these cells cannot be used."""
        return any(error.column in columns for error in self.errors)

    def number(self, column: str, wanted: str, *, least: Decimal | None = None) -> Decimal | None:
        """A decimal with point or comma; None when the cell is empty or wrong."""
        found = self.text(column)
        if not found:
            return None
        # 1,250 may be one and a quarter or twelve hundred and fifty: a limit off by a thousand proves nothing.
        value = read_number(found, ".")
        if isinstance(value, TwoWays):
            self.wrong(column, f"{value.small:f} or {value.large:f}: the comma could mean either")
            return None
        if isinstance(value, NotNumber):
            self.wrong(column, wanted)
            return None
        if least is not None and value < least:
            self.wrong(column, f"{wanted}, {plain(least)} or more")
            return None
        return value

    def whole(self, column: str, wanted: str, *, least: int = 1) -> int | None:
        """A whole number of `least` or more; None when the cell is empty or wrong."""
        found = self.text(column)
        if not found:
            return None
        if not re.fullmatch(r"[0-9]{1,9}", found) or int(found) < least:
            self.wrong(column, wanted)
            return None
        return int(found)

    def yes(self, column: str) -> bool:
        """Yes or no; empty is no."""
        found = self.text(column).casefold()
        if found not in _YES and found not in _NO:
            self.wrong(column, "yes or no")
        return found in _YES
