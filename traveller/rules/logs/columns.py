"""Which column is the time, which are channels, and where do the readings begin?"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from traveller.rules.logs.found import NotALog
from traveller.rules.logs.moments import form_of
from traveller.rules.logs.text import Table
from traveller.rules.logs.values import is_number, unit_in

__all__ = ["Layout", "TimeForm", "layout_of"]

TimeForm = Literal["date_time", "date_and_clock", "clock", "elapsed", "epoch", "serial"]
_Kind = Literal["date_time", "date", "clock", "number", "other"]

_SAMPLED = 60
_BARE = re.compile(r"\s*[+-]?\d{1,16}(?:[.,]\d{1,16})?\s*", re.ASCII)
# From 2000 to 2100: seconds and milliseconds since 1970, and the days of a spreadsheet since 30 December 1899.
_EPOCH_S, _SERIAL = (946_684_800.0, 4_102_444_800.0), (36_526.0, 73_051.0)
_COUNTERS = re.compile(r"\s*(?:no\.?|nr\.?|#|n|index|idx|rec(?:ord)?|id|sample|scan|line|row|lfd.*)\s*", re.IGNORECASE)
_ELAPSED = re.compile(r"elapsed|since|duration|dauer|laufzeit|run ?time|\bt(?:ime)?\b|\bmin|\bsec|\bs\b", re.IGNORECASE)
_OTHER = re.compile(
    r"%|\brh\b|humid|feuchte|volt|\bm?v\b|batter|\bm?a\b|press|druck|\bk?pa\b|\bm?bar\b|\bpsi\b|alarm|status"
    r"|event|dew|set ?point|\bsp\b|\bset\b|soll",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Layout:
    """Columns by number from 0; `header` names each, `first` is the row where readings begin."""

    time_form: TimeForm
    times: tuple[int, ...]
    channels: tuple[int, ...]
    header: tuple[str, ...]
    first: int

    def name(self, column: int) -> str:
        """The channel's name in the file, or its number among the columns."""
        named = self.header[column].strip() if column < len(self.header) else ""
        return named or f"column {column + 1}"

    @property
    def needed(self) -> int:
        """How many cells a row must have."""
        return max(*self.times, *self.channels) + 1


def _kind(cells: Sequence[str]) -> _Kind:
    """What most cells of a column hold."""
    found: Counter[_Kind] = Counter()
    for cell in cells:
        form: _Kind | None = form_of(cell)
        found[form or ("number" if is_number(cell) else "other")] += 1
    clear = [kind for kind in found if kind != "other"]
    best = max(clear, key=lambda kind: found[kind], default=None)
    # Of a short file half of what is looked at may be its header.
    return best if best and found[best] * 2 >= len(cells) else "other"


def _sample(rows: Table) -> Table:
    """Rows of the width that most rows have, from the middle of the file where readings are."""
    widths = Counter(map(len, rows))
    width = max((width for width in widths if width > 1), key=lambda width: widths[width], default=0)
    if not width:
        return []
    middle = rows[max(0, len(rows) // 2 - 5 * _SAMPLED) : len(rows) // 2 + 5 * _SAMPLED]
    like = [row for row in middle if len(row) == width] or [row for row in rows if len(row) == width]
    start = max(0, len(like) // 2 - _SAMPLED // 2)
    return like[start : start + _SAMPLED]


def layout_of(rows: Table) -> Layout | NotALog:
    """Where times and temperatures stand; NotALog where there are none."""
    sample = _sample(rows)
    if not sample:
        return NotALog("log.no_columns")
    width = len(sample[0])
    columns = [[row[place] for row in sample] for place in range(width)]
    kinds = [_kind(column) for column in columns]
    first = _first(rows, kinds, width)
    # The names at the head of a short file stand in the sample too, and are no numbers that rise.
    read = [row for row in _sample(rows[first:]) if len(row) == width]
    columns = [[row[place] for row in read] for place in range(width)] if read else columns
    header = _header(rows[:first], width)
    found = _times(kinds, columns, header)
    if found is None:
        return NotALog("log.no_times")
    form, times = found
    channels = _channels(kinds, columns, header, times)
    if not channels:
        return NotALog("log.no_temperatures")
    if first == len(rows):
        return NotALog("log.too_few", {"readings": 0})
    return Layout(form, times, channels, header, first)


def _first(rows: Table, kinds: list[_Kind], width: int) -> int:
    """The first row in which every column holds what it usually holds."""
    for place, row in enumerate(rows):
        if not min(2, width) <= len(row) <= width:
            continue
        clear, fitting = _fitting(row, kinds)
        if fitting and len(fitting) * 2 > len(clear) and (kinds[clear[0]] == "number" or clear[0] in fitting):
            # A reading whose temperature is n.a. may be the first: the line before this one, if it has a time.
            before = _fitting(rows[place - 1], kinds)[1] if place and len(rows[place - 1]) == width else []
            return place - 1 if clear[0] in before and kinds[clear[0]] == "date_time" else place
    return len(rows)


def _fitting(row: list[str], kinds: list[_Kind]) -> tuple[list[int], list[int]]:
    """The cells whose column usually holds something, and those of them that hold it here."""
    clear = [k for k in range(len(row)) if kinds[k] != "other"]
    return clear, [k for k in clear if kinds[k] == (form_of(row[k]) or ("number" if is_number(row[k]) else "other"))]


def _header(before: Table, width: int) -> tuple[str, ...]:
    """The last line before the readings that names columns; units in a line of their own are added to it."""
    lines = [row for row in before[-3:] if len(row) >= min(width, 2) and len(row) in (width, width - 1, width + 1)]
    names = [""] * width
    for row in lines:
        for place, cell in enumerate(row[:width]):
            if cell.strip("-=+_ \t"):
                names[place] = f"{names[place]} {cell}".strip()
    return tuple(names)


def _numbers(column: list[str]) -> list[float]:
    """The numbers of a column, without its header."""
    return [float(cell.replace(",", ".")) for cell in column if _BARE.fullmatch(cell)]


def _counts_up(column: list[str]) -> bool:
    """1, 2, 3: the number of the row, not a reading."""
    numbers = _numbers(column)
    return len(numbers) > 1 and all(later - earlier == 1 for earlier, later in pairwise(numbers))


def _rises(column: list[str]) -> bool:
    numbers = _numbers(column)
    return len(numbers) > 1 and all(later > earlier for earlier, later in pairwise(numbers))


def _times(
    kinds: list[_Kind], columns: list[list[str]], header: tuple[str, ...]
) -> tuple[TimeForm, tuple[int, ...]] | None:
    if "date_time" in kinds:
        return "date_time", (kinds.index("date_time"),)
    if "clock" in kinds:
        clock = kinds.index("clock")
        if "date" in kinds:
            return "date_and_clock", (kinds.index("date"), clock)
        return ("elapsed" if re.search(r"elapsed|since|duration|dauer", header[clock], re.I) else "clock"), (clock,)
    for place, kind in enumerate(kinds):
        if kind == "number" and (since := _absolute(columns[place])):
            return since, (place,)
    elapsed = _elapsed(kinds, columns, header)
    return None if elapsed is None else ("elapsed", (elapsed,))


def _absolute(column: list[str]) -> Literal["epoch", "serial"] | None:
    """Seconds or milliseconds since 1970, or a spreadsheet's days with the time behind the point; None: neither."""
    numbers = _numbers(column)
    if len(numbers) < 2:
        return None
    for factor in (1.0, 1000.0):
        if all(_EPOCH_S[0] * factor <= number < _EPOCH_S[1] * factor for number in numbers):
            return "epoch"
    parts = sum(number != int(number) for number in numbers)
    # Half the days of a log begin at no midnight; whole numbers of this size may be seconds since the start.
    apart = all(abs(later - earlier) < 1 for earlier, later in pairwise(numbers))
    return "serial" if apart and parts and all(_SERIAL[0] <= number < _SERIAL[1] for number in numbers) else None


def _elapsed(kinds: list[_Kind], columns: list[list[str]], header: tuple[str, ...]) -> int | None:
    """The column of rising numbers that is named as the time since the start, else the first column."""
    numbers = [place for place, kind in enumerate(kinds) if kind == "number" and _rises(columns[place])]
    named = [place for place in numbers if _ELAPSED.search(header[place]) and not unit_in(header[place])]
    chosen = named or [place for place in numbers if place == 0 and len(kinds) > 1]
    return chosen[0] if chosen else None


def _channels(
    kinds: list[_Kind], columns: list[list[str]], header: tuple[str, ...], times: tuple[int, ...]
) -> tuple[int, ...]:
    """Columns of numbers that are neither the time, nor a counter, nor named as something else."""
    numbers = [place for place, kind in enumerate(kinds) if kind == "number" and place not in times]
    numbers = [
        place
        for place in numbers
        if not (
            _absolute(columns[place])
            or _COUNTERS.fullmatch(header[place])
            or (place < times[0] and _counts_up(columns[place]))
        )
    ]
    degrees = [
        place for place in numbers if unit_in(header[place]) and not re.search(r"dew|set ?p|soll", header[place], re.I)
    ]
    if degrees:
        return tuple(degrees)
    return tuple(place for place in numbers if not _OTHER.search(header[place]))
