"""From what the logger's clock showed to true instants: the order of day and month, the zone, clock changes."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from traveller.rules.logs.found import DateOrder, Fault, Floats, LogFigure, Unclear
from traveller.rules.logs.moments import Bools, Ints, Moments

__all__ = ["day_numbers", "order_of_dates", "to_utc", "zone_named"]

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_DAY_S = 86_400


def zone_named(name: str) -> tzinfo | None:
    """A zone by its name in the IANA data, or a fixed offset such as +01:00; None for anything else."""
    if fixed := re.fullmatch(r"([+-])(\d\d):(\d\d)", name):
        length = timedelta(hours=int(fixed[2]), minutes=int(fixed[3]))
        return timezone(length if fixed[1] == "+" else -length) if length < timedelta(hours=24) else None
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None


def order_of_dates(moments: Moments, reported: DateOrder | None) -> DateOrder | Unclear | None:
    """Which of the numbers is the day, where the file leaves it open; None where it says so itself.

    Numbers above 12 decide. With dots the day stands first by custom (DIN 5008), unless it cannot.
    """
    loose = moments.ok & ~moments.ordered
    if not loose.any():
        return None
    first, second, year = moments.month[loose], moments.day[loose], moments.year[loose]
    short = moments.short_year and bool((year < 100).any())
    possible = _possible(first, second, year, short=short)
    if reported is not None and (reported in possible or not possible):
        return reported
    if moments.dotted and "day" in possible and reported is None:
        return "day"
    if set(possible) == {"day", "month"} and bool((first == second).all()):
        return "day"
    if len(possible) == 1:
        return possible[0]
    example = f"{int(first[0]):02d}/{int(second[0]):02d}/{int(year[0]):02d}"
    return Unclear("date_order", tuple(possible) or ("day", "month"), {"example": example})


def _possible(first: Ints, second: Ints, year: Ints, *, short: bool) -> list[DateOrder]:
    """The orders in which all of them may be dates, by what their numbers can be."""
    possible: list[DateOrder] = []
    if (second <= 12).all() and (first <= 31).all():
        possible.append("day")
    if (first <= 12).all() and (second <= 31).all():
        possible.append("month")
    # 26-03-04: with two digits the year may come first.
    if short and (second <= 12).all() and (year <= 31).all():
        possible.append("year")
    return possible


def day_numbers(moments: Moments, order: DateOrder | None) -> tuple[Ints, Bools]:
    """Days since 1970 of each cell, and whether there is such a day in the calendar."""
    loose = ~moments.ordered
    year, month, day = moments.year, moments.month, moments.day
    if loose.any():
        first, second, third = month, day, year
        if order == "day":
            month, day = np.where(loose, second, first), np.where(loose, first, second)
        elif order == "year":
            year, month, day = (
                np.where(loose, first, third),
                np.where(loose, second, first),
                np.where(loose, third, second),
            )
        year = np.where(loose & (year < 100), year + 2000, year)
    valid = (month >= 1) & (month <= 12) & (day >= 1) & (year >= 1970) & (year <= 2200)
    months = np.where(valid, (year - 1970) * 12 + month - 1, 0)
    first_of = months.astype("M8[M]").astype("M8[D]").astype(np.int64)
    next_of = (months + 1).astype("M8[M]").astype("M8[D]").astype(np.int64)
    valid &= day <= next_of - first_of
    return np.where(valid, first_of + day - 1, 0), valid


def _offset_at(zone: tzinfo, second: float, fold: int = 0) -> float:
    """Seconds east of UTC when clocks there show this second since 1970."""
    shown = (_EPOCH + timedelta(seconds=second)).replace(tzinfo=zone, fold=fold)
    offset = shown.utcoffset()
    return offset.total_seconds() if offset is not None else 0.0


def to_utc(local: Floats, zone: tzinfo, lines: Ints) -> tuple[Floats, list[Fault]] | Unclear:
    """UTC seconds of what a clock in this zone showed, in the file's own order.

    An hour that comes twice is told apart by the clock's jump back; where the file shows it once, it is
    taken as the first, so that what is missing shows as a gap. A time that the clocks skipped was not
    shown by a clock that follows them: then the logger keeps another time, and somebody must say which.
    """
    if not local.size:
        return local, []
    days = np.unique(np.floor(local / _DAY_S).astype(np.int64))
    edges = {int(day): _offset_at(zone, float(day) * _DAY_S) for day in {*days.tolist(), *(days + 1).tolist()}}
    low = np.array([edges[int(day)] for day in days])
    steady = low == np.array([edges[int(day) + 1] for day in days])
    place = np.searchsorted(days, np.floor(local / _DAY_S).astype(np.int64))
    offsets: Floats = low[place]
    if steady.all():
        return local - offsets, []
    return _through_changes(local, zone, lines, offsets, np.flatnonzero(~steady[place]))


def _through_changes(
    local: Floats, zone: tzinfo, lines: Ints, offsets: Floats, rows: Ints
) -> tuple[Floats, list[Fault]] | Unclear:
    """Readings of a day on which the clocks change, one by one."""
    twice: list[int] = []
    for row in rows.tolist():
        second = float(local[row])
        before, after = _offset_at(zone, second), _offset_at(zone, second, 1)
        offsets[row] = before
        if before < after:
            sign, minutes = "-" if before < 0 else "+", int(abs(before)) // 60
            figures: dict[str, LogFigure] = {"line": int(lines[row]), "zone": str(zone)}
            return Unclear("clock", (f"{sign}{minutes // 60:02d}:{minutes % 60:02d}",), figures)
        if before > after:
            twice.append(row)
    faults: list[Fault] = []
    second_time = False
    for place, row in enumerate(twice):
        if place and twice[place - 1] == row - 1:
            second_time = second_time or local[row] < local[row - 1]
        elif place:
            second_time = False
        if second_time:
            offsets[row] = _offset_at(zone, float(local[row]), 1)
    if twice and not second_time:
        faults.append(Fault("log.hour_twice", int(lines[twice[0]]), {"zone": str(zone)}))
    return local - offsets, faults
