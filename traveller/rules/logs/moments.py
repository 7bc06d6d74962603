"""Dates and times as loggers write them, many at once: cells of one shape are read together.

The shape of a cell is the cell with every digit as 0; a file has few shapes, so each is understood once.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from traveller.rules.logs.found import Floats

__all__ = ["Ints", "Moments", "form_of", "read_moments"]

Ints: TypeAlias = NDArray[np.int64]
Bools: TypeAlias = NDArray[np.bool_]
_Form = Literal["date_time", "date", "clock"]
_DIGITS_AS_ZERO = bytes(48 if 48 <= code <= 57 else code for code in range(256))

_MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
# Beside English: German, Spanish and French short names that differ.
_MONTH_WORDS = {name: number for number, name in enumerate(_MONTHS, start=1)} | {
    "mär": 3, "mrz": 3, "mai": 5, "okt": 10, "dez": 12, "ene": 1, "abr": 4, "ago": 8, "dic": 12,
    "fév": 2, "fev": 2, "avr": 4, "aoû": 8, "déc": 12,
}  # fmt: skip

_DATES = (
    r"(?P<y>0000)(?P<s>[-/.])(?P<m>00?)(?P=s)(?P<d>00?)",
    r"(?P<a>00?)(?P<s>[-/.])(?P<b>00?)(?P=s)(?P<y>0000|00)",
    r"(?P<d>00?)[-/. ]*(?P<mon>[^\W\d_]{3,9})\.?[-/, ]*(?P<y>0000|00)",
    r"(?P<mon>[^\W\d_]{3,9})\.?[-/ ]*(?P<d>00?)[-/, ]+(?P<y>0000)",
    r"(?P<y>0000)(?P<m>00)(?P<d>00)",
)
_CLOCK = (
    r"(?P<h>0{1,3}):(?P<mi>00)(?::(?P<se>00)(?:[.,](?P<f>0{1,9}))?)?"
    r"\s*(?P<ap>[AaPp]\.?\s?[Mm]\.?)?\s*(?P<z>Z|UTC|GMT|[+-]00:?00)?"
)
_PACKED_CLOCK = r"(?P<h>00)(?P<mi>00)(?P<se>00)(?P<z>Z)?"
_WEEKDAY = r"(?:[^\W\d_]{2,10}\.?,? +)?"
_FORMS: tuple[tuple[_Form, re.Pattern[str]], ...] = (
    *(("date_time", re.compile(rf"\s*{_WEEKDAY}{date}(?:\s*T\s*|[\s,_]+){_CLOCK}\s*")) for date in _DATES),
    ("date_time", re.compile(rf"\s*{_DATES[-1]}[T _-]?{_PACKED_CLOCK}\s*")),
    *(("date", re.compile(rf"\s*{_WEEKDAY}{date}\s*")) for date in _DATES[:-1]),
    ("clock", re.compile(rf"\s*{_CLOCK}\s*")),
)


@dataclass(frozen=True, eq=False)
class Moments:
    """Fields of each cell; where `ordered` is false, `month` and `day` stand as they came: first, second.

    `second` is the second of the day, `offset` the written offset from UTC in seconds (not a number: none).
    """

    ok: Bools
    ordered: Bools
    year: Ints
    month: Ints
    day: Ints
    second: Floats
    offset: Floats
    dotted: bool
    short_year: bool
    in_words: bool


def form_of(cell: str) -> _Form | None:
    """What a single cell holds: date and time, a date, a time; None for anything else."""
    found = _understood(re.sub(r"[0-9]", "0", cell))
    return found[0] if found else None


def _understood(shape: str) -> tuple[_Form, re.Match[str]] | None:
    for form, pattern in _FORMS:
        match = pattern.fullmatch(shape)
        if match is None:
            continue
        word = match.groupdict().get("mon")
        if word is None or word[:3].casefold() in _MONTH_WORDS:
            return form, match
    return None


def read_moments(cells: Sequence[str]) -> Moments:
    """Every cell read as a date and time, a date or a time, whatever its shape; what cannot be read is not ok."""
    size = len(cells)
    found = Moments(
        ok=np.zeros(size, np.bool_),
        ordered=np.ones(size, np.bool_),
        year=np.full(size, 1970),
        month=np.ones(size, np.int64),
        day=np.ones(size, np.int64),
        second=np.zeros(size),
        offset=np.full(size, np.nan),
        dotted=False,
        short_year=False,
        in_words=False,
    )
    raw = "\n".join(cells).encode("latin-1", "replace")
    if raw.count(b"\n") != size - 1:
        raw = "\n".join(cell.replace("\n", " ") for cell in cells).encode("latin-1", "replace")
    zeros = raw.translate(_DIGITS_AS_ZERO)
    flags = {"dotted": False, "short_year": False, "in_words": False}
    first = zeros.partition(b"\n")[0]
    if zeros == b"\n".join([first] * size):
        _read_shape(found, flags, first, raw.replace(b"\n", b""), slice(None))
    else:
        shapes, bare = zeros.split(b"\n"), raw.split(b"\n")
        for shape, rows in _by_shape(shapes).items():
            _read_shape(found, flags, shape, b"".join([bare[row] for row in rows]), np.array(rows))
    return Moments(**{**vars(found), **flags})


def _by_shape(shapes: list[bytes]) -> dict[bytes, list[int]]:
    rows: dict[bytes, list[int]] = {}
    for row, shape in enumerate(shapes):
        rows.setdefault(shape, []).append(row)
    return rows


def _read_shape(found: Moments, flags: dict[str, bool], shape: bytes, raw: bytes, rows: Ints | slice) -> None:
    """Read all cells of one shape; `raw` is those cells one behind the other."""
    known = _understood(shape.decode("latin-1"))
    if known is None:
        return
    _, match = known
    digits = np.frombuffer(raw, np.uint8).reshape(-1, len(shape)) - np.uint8(48)
    groups = match.groupdict()

    def number(name: str) -> Ints:
        value: Ints = np.zeros(len(digits), np.int64)
        for place in range(*match.span(name)):
            value *= 10
            value += digits[:, place]
        return value

    valid: Bools = np.ones(len(digits), np.bool_)
    if groups.get("y"):
        short = len(groups["y"]) == 2
        found.year[rows] = number("y") + (2000 if short else 0)
        flags["short_year"] |= short
    if groups.get("a"):
        found.ordered[rows] = False
        found.month[rows], found.day[rows] = number("a"), number("b")
        flags["dotted"] |= groups["s"] == "."
        if len(groups["y"]) == 2:
            found.year[rows] = number("y")
    elif groups.get("mon"):
        found.month[rows], found.day[rows] = _MONTH_WORDS[groups["mon"][:3].casefold()], number("d")
        flags["in_words"] = True
    elif groups.get("m"):
        found.month[rows], found.day[rows] = number("m"), number("d")
    if groups.get("h"):
        second, valid = _second_of_day(groups, number)
        found.second[rows] = second
    if groups.get("z"):
        found.offset[rows] = _offset(groups["z"], raw, match, len(digits), len(shape))
    found.ok[rows] = valid


def _second_of_day(groups: dict[str, str | None], number: Callable[[str], Ints]) -> tuple[Floats, Bools]:
    hour, minute = number("h"), number("mi")
    second: Floats = np.zeros(len(hour))
    if groups.get("se"):
        second = number("se").astype(np.float64)
    valid = (minute < 60) & (second < 60)
    if half := groups.get("ap"):
        valid &= (hour >= 1) & (hour <= 12)
        hour = hour % 12 + (12 if half[0] in "pP" else 0)
    if part := groups.get("f"):
        second = second + number("f") / 10.0 ** len(part)
    return hour * 3600.0 + minute * 60 + second, valid


def _offset(word: str, raw: bytes, match: re.Match[str], size: int, width: int) -> Floats:
    """Seconds east of UTC; a file may change its offset in the middle, so each cell is read."""
    if word[0] not in "+-":
        return np.zeros(size)
    start, end = match.span("z")
    digits = np.frombuffer(raw, np.uint8).reshape(-1, width)[:, start + 1 : end].astype(np.int64) - 48
    digits = digits[:, [0, 1, -2, -1]]
    seconds = (digits[:, 0] * 10 + digits[:, 1]) * 3600.0 + (digits[:, 2] * 10 + digits[:, 3]) * 60
    return seconds if word[0] == "+" else -seconds
