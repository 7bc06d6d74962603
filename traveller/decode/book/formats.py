"""Which numbers of a spreadsheet are days, times of day or durations, and which ones they are (ECMA-376, 18.8.30)."""

from __future__ import annotations

import datetime as dt
import re

__all__ = ["Kinds", "is_date", "is_duration", "moment_of"]

# Formats without a code of their own in the file: days and times, also those of East Asian spreadsheets.
_DATES = frozenset((*range(14, 23), *range(27, 37), *range(45, 48), *range(50, 59)))
_DURATIONS = frozenset((46,))
_ASIDE = re.compile(r'"[^"]*"|\\.|_.|\*.')
_LONG = re.compile(r"\[(h+|m+|s+)\]", re.IGNORECASE)
_BRACKETS = re.compile(r"\[[^\]]*\]")
_DATE = re.compile(r"[dmhys]", re.IGNORECASE)
_MIDNIGHT_1900 = dt.datetime(1899, 12, 30)  # noqa: DTZ001 - cells know no zone
_MIDNIGHT_1904 = dt.datetime(1904, 1, 1)  # noqa: DTZ001
_DAY_MS = 86_400_000


def is_duration(code: str) -> bool:
    """Does this format count hours, minutes or seconds past their next larger unit?"""
    return _LONG.search(_first(code)) is not None


def is_date(code: str) -> bool:
    """Does this format show a day or a time of day?"""
    return _DATE.search(_BRACKETS.sub("", _first(code))) is not None or is_duration(code)


def _first(code: str) -> str:
    """What is shown of a positive number, without literal letters."""
    return _ASIDE.sub("", code).split(";")[0]


class Kinds:
    """What the styles of one workbook make of a number: by the number of the style."""

    def __init__(self) -> None:
        self.codes: dict[int, str] = {}
        self.by_style: list[int] = []
        self._known: dict[int, str] = {}

    def kind(self, style: int) -> str:
        """What a number of this style is: "number", "date" or "duration"."""
        if style not in self._known:
            self._known[style] = self._kind(style)
        return self._known[style]

    def _kind(self, style: int) -> str:
        if not 0 <= style < len(self.by_style):
            return "number"
        number = self.by_style[style]
        code = self.codes.get(number)
        if code is None:
            return "duration" if number in _DURATIONS else "date" if number in _DATES else "number"
        return "duration" if is_duration(code) else "date" if is_date(code) else "number"


def moment_of(serial: float, *, duration: bool, from_1904: bool) -> dt.datetime | dt.time | dt.timedelta:
    """What a spreadsheet shows for this number of days. OverflowError where no calendar has it."""
    if duration:
        return dt.timedelta(milliseconds=round(serial * _DAY_MS))
    whole, part = divmod(serial, 1)
    ms = round(part * _DAY_MS)
    start = _MIDNIGHT_1904 if from_1904 else _MIDNIGHT_1900
    if whole == 0 and ms < _DAY_MS:
        return (start + dt.timedelta(milliseconds=ms)).time()
    if 0 < serial < 60 and not from_1904:
        # Spreadsheets count a 29 February 1900 that there never was.
        whole += 1
    return start + dt.timedelta(days=whole, milliseconds=ms)
