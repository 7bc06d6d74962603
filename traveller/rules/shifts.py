"""What hours does a shop keep? Shifts by weekday from the way people write them, and back."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import time
from typing import Final, Literal

__all__ = ["WEEKDAYS", "Shift", "ShiftError", "Shifts", "parse_shifts"]

Shift = tuple[time, time]
Shifts = Mapping[int, tuple[Shift, ...]]

WEEKDAYS: Final = ("Mo", "Tu", "We", "Th", "Fr", "Sa", "Su")
_NUMBER = {day.casefold(): number for number, day in enumerate(WEEKDAYS)}
_DAY = r"(?:Mo|Tu|We|Th|Fr|Sa|Su)[a-z]{0,7}\.?"
_CHUNK = re.compile(
    rf"(?P<days>{_DAY}(?:\s*-\s*{_DAY})?)?(?P<times>(?:(?:^|\s+)[0-9:.]+\s*-\s*[0-9:.]+)*)", re.IGNORECASE
)
_TIMES = re.compile(r"([0-9:.]+)\s*-\s*([0-9:.]+)")
_CLOCK = re.compile(r"([0-9]{1,2})[:.]([0-9]{2})")
_DAY_MINUTES = 24 * 60


@dataclass(frozen=True, slots=True)
class ShiftError:
    """Why hours could not be read, and the part of the text at fault."""

    why: Literal["empty", "form", "time", "overlap", "no_times"]
    part: str


def parse_shifts(text: str) -> Shifts | ShiftError:
    """Shifts from "Mo-Fr 08:00-16:30, Sa 08:00-12:00"; an end not after its start is on the next day.

    Several times may follow a day ("Mo-Fr 08:00-12:00, 13:00-16:30"), several days a comma ("Mo, We
    08:00-12:00"), a span of days may pass Sunday ("Sa-Mo"), and 24:00 is the end of the day.
    """
    found: dict[int, list[Shift]] = {}
    days: list[int] = []
    waiting = False  # days named whose times are still to come
    for part in re.split(r"[,;]", text.replace("–", "-").replace("—", "-")):
        chunk = part.strip()
        if not chunk:
            continue
        match = _CHUNK.fullmatch(chunk)
        if match is None or not (match["days"] or days):
            return ShiftError("form", chunk)
        if match["days"]:
            days = [*(days if waiting else []), *_days(match["days"])]
        spans = _spans(match["times"])
        if isinstance(spans, ShiftError):
            return spans
        waiting = not spans
        for day in days:
            found.setdefault(day, []).extend(spans)
    if waiting:
        return ShiftError("no_times", text.strip())
    if not found:
        return ShiftError("empty", text.strip())
    shifts = {day: tuple(sorted(found[day])) for day in sorted(found)}
    return _overlap(shifts) or shifts


def _days(text: str) -> list[int]:
    first, _, last = (name.strip()[:2].casefold() for name in text.partition("-"))
    start = _NUMBER[first]
    return [(start + n) % 7 for n in range((_NUMBER[last or first] - start) % 7 + 1)]


def _spans(text: str) -> list[Shift] | ShiftError:
    spans: list[Shift] = []
    for start_text, end_text in _TIMES.findall(text):
        start, end = _clock(start_text), _clock(end_text)
        if start is None or end is None or start_text.startswith("24"):
            return ShiftError("time", f"{start_text}-{end_text}")
        spans.append((start, end))
    return spans


def _clock(text: str) -> time | None:
    match = _CLOCK.fullmatch(text)
    if match is None:
        return None
    hour, minute = int(match[1]), int(match[2])
    if (hour, minute) == (24, 0):
        return time(0, 0)
    return time(hour, minute) if hour < 24 and minute < 60 else None


def _overlap(shifts: Shifts) -> ShiftError | None:
    """The first shift that starts before the one ahead of it ended, Sunday night to Monday included."""
    week = [
        (day * _DAY_MINUTES + _minutes(start), _length(start, end), day, (start, end))
        for day, spans in sorted(shifts.items())
        for start, end in spans
    ]
    first = week[0]
    for now, after in zip(week, [*week[1:], (first[0] + 7 * _DAY_MINUTES, *first[1:])], strict=True):
        if now[0] + now[1] > after[0]:
            return ShiftError("overlap", f"{WEEKDAYS[after[2]]} {_show(after[3])}")
    return None


def _minutes(at: time) -> int:
    return at.hour * 60 + at.minute


def _length(start: time, end: time) -> int:
    return (_minutes(end) - _minutes(start)) % _DAY_MINUTES or _DAY_MINUTES


def _show(shift: Shift) -> str:
    start, end = shift
    return f"{start:%H:%M}-{'24:00' if end == time(0, 0) else f'{end:%H:%M}'}"
