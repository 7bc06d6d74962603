"""One sheet of an XLSX as it streams by: rows that hold something, one pass, ended early when there are too many."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from contextlib import suppress
from datetime import date, datetime, time

from traveller.decode.book.bounds import COLUMNS_MAX, ROWS_MAX, Counted
from traveller.decode.book.cells import Numbered, Raw, Unusable, as_text, is_blank
from traveller.decode.book.formats import Kinds, moment_of
from traveller.decode.book.xml_parts import XmlReading, stream

__all__ = ["SheetReading", "sheet_rows"]

_ERROR = ("is a spreadsheet error", "mend the formula or write the value")
_NEVER_SAVED = (
    "is a formula whose result was never saved",
    "open and save the file in a spreadsheet, or write the value",
)


_LETTERS = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZ")


class _Enough(Exception):
    """More rows than a sheet may have: that is known now, and the rest need not be read."""


def sheet_rows(pieces: Iterable[bytes], reading: SheetReading, name: str) -> list[Numbered]:
    """Rows that are not blank, with their numbers: at most ROWS_MAX + 2. ValueError for what is no sheet."""
    with suppress(_Enough):
        stream(pieces, reading, name)
    return reading.rows


class SheetReading(XmlReading):
    """The cells of one worksheet part (ECMA-376, 18.3.1)."""

    def __init__(self, strings: list[str], kinds: Kinds, from_1904: bool, counted: Counted) -> None:
        super().__init__()
        self.rows: list[Numbered] = []
        self._strings, self._kinds, self._from_1904, self._counted = strings, kinds, from_1904, counted
        self._row: dict[int, Raw] = {}
        self._number = self._column = self._places = 0
        self._kind, self._style = "n", "0"
        self._value = self._formula = ""
        self._is_formula = self._aside = False
        self.begins = {
            "row": self._begin_row,
            "c": self._begin_cell,
            "v": self.listen,
            "f": self.listen,
            "t": self._begin_text,
            "rPh": self._begin_aside,
        }
        self.ends = {
            "row": self._end_row,
            "c": self._end_cell,
            "v": self._end_value,
            "f": self._end_formula,
            "t": self._end_text,
            "rPh": self._end_aside,
        }

    def _begin_row(self, attributes: Mapping[str, str]) -> None:
        self._number = _whole(attributes["r"]) if "r" in attributes else self._number + 1
        self._column = 0
        self._row.clear()
        self._pass_one()

    def _pass_one(self) -> None:
        """Count a row or a cell, in hundreds, since most of what hurts is nothing but many."""
        self._places += 1
        if self._places == 100:
            self._counted.add_places(100)
            self._places = 0

    def _begin_cell(self, attributes: Mapping[str, str]) -> None:
        self._pass_one()
        self._column = _column_of(attributes["r"]) if "r" in attributes else self._column + 1
        self._kind = attributes.get("t", "n")
        self._style = attributes.get("s", "0")
        self._value = self._formula = ""
        self._is_formula = False

    def _begin_text(self, attributes: Mapping[str, str]) -> None:
        self.listens = self._kind == "inlineStr" and not self._aside
        self._pass_one()

    def _begin_aside(self, attributes: Mapping[str, str]) -> None:
        self._aside = True

    def _end_aside(self) -> None:
        self._aside = False

    def _end_value(self) -> None:
        text = self.heard()
        if self._kind != "inlineStr":
            self._value = text

    def _end_formula(self) -> None:
        self._formula, self._is_formula = self.heard(), True

    def _end_text(self) -> None:
        self._value += self.heard()

    def _end_cell(self) -> None:
        if self._column > COLUMNS_MAX or not (self._value or self._is_formula):
            return
        cell = self._cell()
        if cell is not None:
            self._row[self._column] = cell

    def _end_row(self) -> None:
        if not self._row:
            return
        filled = [cell for cell in self._row.values() if not is_blank(cell)]
        if not filled:
            return
        self._counted.add_cells(len(filled), sum(len(cell) for cell in filled if isinstance(cell, str)))
        self.rows.append((self._number, tuple(self._row.get(at) for at in range(1, max(self._row) + 1))))
        if len(self.rows) > ROWS_MAX + 1:
            raise _Enough

    def _cell(self) -> Raw:
        text = self._value
        if not text:
            return Unusable(f"={self._formula[:200]}", *_NEVER_SAVED) if self._is_formula else None
        match self._kind:
            case "n":
                return self._number_of(text)
            case "s":
                place = int(text)
                if place < 0:
                    raise ValueError("a text that is not there")
                return as_text(self._strings[place])
            case "b":
                return bool(int(text))
            case "e":
                return Unusable(text[:200], *_ERROR)
            case "d":
                return _iso(text)
            case _:
                return as_text(text)

    def _number_of(self, text: str) -> Raw:
        number: int | float = float(text) if any(sign in text for sign in ".eE") else int(text)
        kind = self._kinds.kind(int(self._style))
        if not math.isfinite(number):
            return Unusable(text[:200], "is not a number", "write a number")
        if kind == "number":
            return number
        try:
            return moment_of(number, duration=kind == "duration", from_1904=self._from_1904)
        except (OverflowError, ValueError):
            return Unusable("#VALUE!", *_ERROR)


def _column_of(place: str) -> int:
    """B7 stands in column 2."""
    column = 0
    for letter in place:
        if letter not in _LETTERS:
            break
        column = column * 26 + ord(letter) - 64
    if not 1 <= column <= 16_384:
        raise ValueError("no place of a sheet")
    return column


def _whole(text: str) -> int:
    number = float(text)
    if not number.is_integer() or not 1 <= number <= 1_048_576:
        raise ValueError("no row of a sheet")
    return int(number)


def _iso(text: str) -> Raw:
    kinds: tuple[type[date | datetime | time], ...] = (date, datetime, time)
    for kind in kinds:
        try:
            return kind.fromisoformat(text.removesuffix("Z"))
        except ValueError:
            continue
    raise ValueError("no moment")
