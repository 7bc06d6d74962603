"""A logger's file from bytes to readings, or what is unclear about it, or why it is no log."""

from __future__ import annotations

import gc
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, tzinfo
from typing import Literal

import numpy as np

from traveller.rules.logs.columns import Layout, layout_of
from traveller.rules.logs.faults import Faults, Readings, drop_impossible, falls, name_gaps, put_in_order
from traveller.rules.logs.found import Answers, Fault, Floats, Log, NotALog, Said, Unclear, Unit
from traveller.rules.logs.instants import day_numbers, order_of_dates, to_utc, zone_named
from traveller.rules.logs.moments import Bools, Ints, Moments, read_moments
from traveller.rules.logs.text import BLANKS, Table, decoded, spaced_table, table
from traveller.rules.logs.values import decimal_sign_of, is_number, read_values, to_celsius, unit_in, unit_of_cells

__all__ = ["read_log"]

_UNTOLD = Answers()
_DAY_S = 86_400.0
_LEAST_READINGS = 2
_HEAD_ROWS = 400
_SERIAL_1970 = 25_569
# No seconds since 1970 are so many before the year 5138, and no milliseconds so few after 1973.
_MILLI_FROM = 1e11
_ELAPSED_S = {"s": 1.0, "min": 60.0, "h": 3600.0}
Dates = Literal["iso", "day", "month", "year", "words", "clock", "elapsed", "epoch", "serial"]


@dataclass(frozen=True)
class _Timed:
    """UTC seconds of each row (not a number: not readable), and how the dates were read."""

    seconds: Floats
    dates: Dates
    zone: str
    faults: tuple[Fault, ...] = ()


def read_log(data: bytes, answers: Answers = _UNTOLD) -> Log | Unclear | NotALog:
    """Read a logger's file; what is `Unclear` is asked one question at a time, the answers given here.

    Cells are parted by comma, semicolon, tab, | or blanks; decimal sign, dates, unit and channel are found from the
    file where it tells them. The file's lines are numbered from 1 in every fault.
    """
    with _without_collection():
        return _read(data, answers)


@contextmanager
def _without_collection() -> Iterator[None]:
    """Python's collector looks through a hundred thousand rows again and again while they are made.

    Nothing here refers back to itself, so nothing is lost; it is half of the time.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _read(data: bytes, answers: Answers) -> Log | Unclear | NotALog:
    text = decoded(data)
    if isinstance(text, NotALog):
        return text
    found = _laid_out(text)
    if isinstance(found, NotALog):
        return found
    rows, lines, delimiter, layout = found
    layout, rows = _with_decimal_commas(layout, rows, delimiter)
    channel = _channel(layout, answers)
    if isinstance(channel, Unclear):
        return channel
    unit = _unit(layout, rows, channel, answers)
    if isinstance(unit, Unclear):
        return unit
    body = _Body(layout, rows[layout.first :], np.array(lines[layout.first :], np.int64))
    return _assembled(body, channel, unit, delimiter, answers, cut=not text.endswith("\n"))


def _laid_out(text: str) -> tuple[Table, list[int], str, Layout] | NotALog:
    """Cells and what they are; where no sign makes times and temperatures of them, parted by blanks."""
    found = table(text)
    layout = found if isinstance(found, NotALog) else layout_of(found[0])
    if not isinstance(found, NotALog) and isinstance(layout, Layout):
        return *found, layout
    for apart in BLANKS:
        # A look at the head first: of a long text that is no log not all is taken apart.
        head = spaced_table(text, apart, _HEAD_ROWS)
        if head is None or not isinstance(layout_of(head[0]), Layout):
            continue
        spaced = spaced_table(text, apart)
        if spaced and isinstance(other := layout_of(spaced[0]), Layout):
            return *spaced, other
    assert isinstance(layout, NotALog)
    return layout


class _Body:
    """The rows from the first reading on; those with too few cells are left out and remembered."""

    def __init__(self, layout: Layout, rows: Table, lines: Ints) -> None:
        self.layout = layout
        wide = np.array(list(map(len, rows)), np.int64) >= layout.needed
        # A blank line is nothing; a line with too few cells is something that could not be read.
        short = [row for row in np.flatnonzero(~wide).tolist() if any(map(str.strip, rows[row]))]
        self.unread: Ints = lines[short]
        self.lines: Ints = lines[wide]
        self.rows = rows if wide.all() else [rows[row] for row in np.flatnonzero(wide).tolist()]

    def cells(self, column: int) -> list[str]:
        """One column."""
        return [row[column] for row in self.rows]


def _with_decimal_commas(layout: Layout, rows: Table, delimiter: str) -> tuple[Layout, Table]:
    """Comma between cells and in numbers: 14:02,150,3 under a header of two names is one channel of 150.3.

    Only where every row has just twice the cells that its header has names for, the time apart.
    """
    names = [name for name in layout.header if name]
    times = len(layout.times)
    if delimiter != "," or len(names) - times < 1:
        return layout, rows
    body = rows[layout.first :]
    width = times + 2 * (len(names) - times)
    if layout.times != tuple(range(times)) or len(body[0]) != width or len(names) == width:
        return layout, rows
    joined = [
        row[:times] + [f"{row[n]}.{row[n + 1]}" for n in range(times, width, 2)] if len(row) == width else row
        for row in body
    ]
    channels = tuple(range(times, len(names)))
    return Layout(layout.time_form, layout.times, channels, layout.header[: len(names)], layout.first), [
        *rows[: layout.first],
        *joined,
    ]


def _channel(layout: Layout, answers: Answers) -> int | Unclear:
    """The column asked for by name or by number among the channels; the only one where there is one."""
    names = tuple(layout.name(column) for column in layout.channels)
    if len(set(names)) < len(names):
        names = tuple(f"{number} {name}" for number, name in enumerate(names, start=1))
    reported = answers.channel
    if reported is not None:
        if reported in names:
            return layout.channels[names.index(reported)]
        if reported.isdecimal() and 1 <= int(reported) <= len(names):
            return layout.channels[int(reported) - 1]
    if len(names) == 1 and reported is None:
        return layout.channels[0]
    return Unclear("channel", names)


def _unit(layout: Layout, rows: Table, column: int, answers: Answers) -> Unit | Unclear:
    """What somebody is sure of; what the header, the cells or the lines before them say; else what was told."""
    if answers.unit_sure is not None:
        return answers.unit_sure
    named = layout.header[column] if column < len(layout.header) else ""
    cells = [row[column] for row in rows[layout.first : layout.first + 5] if column < len(row)]
    cells = [cell for cell in cells if is_number(cell)]
    before = [" ".join(row) for row in rows[: layout.first]]
    naming = [line for line in before if re.search(r"unit|einheit|temp|scale|°|celsius|fahrenheit", line, re.I)]
    if found := unit_in(named) or unit_of_cells(cells) or unit_in(" ".join(naming)):
        return found
    return answers.unit or Unclear("unit", ("C", "F", "K"), {"value": cells[0].strip() if cells else ""})


def _assembled(
    body: _Body, channel: int, unit: Unit, delimiter: str, answers: Answers, *, cut: bool
) -> Log | Unclear | NotALog:
    layout = body.layout
    timed = _timed(body, answers)
    if isinstance(timed, Unclear | NotALog):
        return timed
    cells = body.cells(channel)
    sign = "." if delimiter == "," and not any('"' in cell or "," in cell for cell in cells[:50]) else ""
    sign = sign or decimal_sign_of(cells)
    faults = Faults()
    faults.first += timed.faults
    faults.count += len(timed.faults)
    found = Readings(timed.seconds, to_celsius(read_values(cells, sign), unit), body.lines)
    found = _without_ends(body, found, cells, faults, cut=cut)
    found = drop_impossible(found, faults)
    found, newest_first = put_in_order(found, faults)
    if found.times.size < _LEAST_READINGS:
        return NotALog("log.too_few", {"readings": int(found.times.size)})
    steps = np.diff(found.times)
    interval = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
    name_gaps(found, interval, faults)
    names = tuple(layout.name(column) for column in layout.channels)
    number = layout.channels.index(channel)
    said = Said(
        delimiter=delimiter,
        decimal_sign=sign,
        dates=timed.dates,
        unit=unit,
        channel=names[number],
        channel_number=number + 1,
        channels=names,
        interval_s=interval,
        zone=timed.zone,
        newest_first=newest_first,
        faults=faults.count,
    )
    return Log(found.times, found.celsius, said, faults.sorted(), answers)


def _without_ends(body: _Body, found: Readings, cells: Sequence[str], faults: Faults, *, cut: bool) -> Readings:
    """Without footers and a last line that breaks off; lines in the middle that are no reading are named."""
    good = np.isfinite(found.times)
    if not good.any():
        return found.where(good)
    last_good = int(body.lines[good][-1])
    unread = np.concatenate((body.unread, body.lines[~good]))
    # What stands behind the last reading is the file's foot.
    faults.add("log.not_a_reading", np.sort(unread[unread < last_good]))
    found, kept = found.where(good), [cells[row] for row in np.flatnonzero(good).tolist()] if not good.all() else cells
    foot = unread[unread > last_good]
    if cut and foot.size:
        faults.add("log.cut_off", np.sort(foot)[-1:])
    elif cut and _breaks_off(kept):
        faults.add("log.cut_off", found.lines[-1:])
        return found.where(np.arange(found.times.size - 1))
    return found


def _breaks_off(cells: Sequence[str]) -> bool:
    """The last number has fewer decimals than each of those before it, which all have as many."""
    before = [cell for cell in cells[-200:-1] if is_number(cell)]
    places = {len(re.split(r"[.,]", cell.strip())[-1]) if re.search(r"[.,]", cell) else 0 for cell in before}
    last = cells[-1].strip()
    own = len(re.split(r"[.,]", last)[-1]) if re.search(r"[.,]", last) else 0
    return not last or (len(places) == 1 and own < places.pop())


def _timed(body: _Body, answers: Answers) -> _Timed | Unclear | NotALog:
    layout = body.layout
    first = body.cells(layout.times[0])
    if layout.time_form == "elapsed":
        return _elapsed(first, layout, answers)
    if layout.time_form in ("epoch", "serial"):
        return _counted(first, body.lines, layout.time_form, answers)
    if layout.time_form == "date_and_clock":
        days, clock = read_moments(first), read_moments(body.cells(layout.times[1]))
        moments = Moments(**{**vars(days), "second": clock.second, "offset": clock.offset, "ok": days.ok & clock.ok})
        return _dated(moments, body.lines, answers)
    moments = read_moments(first)
    return _clock(moments, body.lines, answers) if layout.time_form == "clock" else _dated(moments, body.lines, answers)


def _dated(moments: Moments, lines: Ints, answers: Answers) -> _Timed | Unclear | NotALog:
    order = order_of_dates(moments, answers.date_order)
    if isinstance(order, Unclear):
        return order
    days, valid = day_numbers(moments, order)
    dates: Dates = order or ("words" if moments.in_words else "iso")
    return _zoned(days * _DAY_S + moments.second, moments.offset, moments.ok & valid, dates, lines, answers)


def _clock(moments: Moments, lines: Ints, answers: Answers) -> _Timed | Unclear | NotALog:
    """Times without a date: the day is told; a time far before the last one is the next day's."""
    if answers.start is None:
        return Unclear("start", ())
    zone = _zone(answers)
    if isinstance(zone, Unclear):
        return zone
    day = answers.start.astimezone(zone).date()
    second = np.where(moments.ok, moments.second, np.nan)
    known = second[moments.ok]
    back = slice(None, None, -1 if falls(known) else 1)
    known = known[back]
    turns = np.concatenate(([0.0], np.cumsum(np.diff(known) < -_DAY_S / 2)))
    second[moments.ok] = (known + turns * _DAY_S)[back]
    local = np.datetime64(day, "D").astype(np.int64) * _DAY_S + second
    return _zoned(local, moments.offset, moments.ok, "clock", lines, answers)


def _zone(answers: Answers) -> tzinfo | Unclear:
    zone = zone_named(answers.zone) if answers.zone else None
    return zone or Unclear("zone", ())


def _zoned(
    local: Floats, offset: Floats, ok: Bools, dates: Dates, lines: Ints, answers: Answers
) -> _Timed | Unclear | NotALog:
    seconds: Floats = np.where(ok, local - offset, np.nan)
    bare = ok & np.isnan(offset)
    if not bare.any():
        return _Timed(seconds, dates, "UTC")
    zone = _zone(answers)
    if isinstance(zone, Unclear):
        return zone
    # Which of two equal hours comes first is told by the order in which they passed, not by that of the file.
    back = slice(None, None, -1 if falls(local[bare]) else 1)
    found = to_utc(local[bare][back], zone, lines[bare][back])
    if isinstance(found, Unclear):
        return found
    seconds[bare] = found[0][back]
    return _Timed(seconds, dates, answers.zone or str(UTC), tuple(found[1]))


def _counted(
    cells: list[str], lines: Ints, form: Literal["epoch", "serial"], answers: Answers
) -> _Timed | Unclear | NotALog:
    """Seconds or milliseconds since 1970, which are UTC; days since 30 December 1899, on the logger's clock."""
    numbers = read_values(cells, decimal_sign_of(cells))
    ok = np.isfinite(numbers)
    if form == "epoch":
        milli = float(np.median(numbers[ok])) >= _MILLI_FROM if ok.any() else False
        return _Timed(numbers / 1000 if milli else numbers, form, "UTC")
    # To the millisecond: a day's fraction with eight places is a hair beside the second that it means.
    local = np.round((numbers - _SERIAL_1970) * _DAY_S, 3)
    return _zoned(local, np.full(numbers.size, np.nan), ok, form, lines, answers)


def _elapsed(cells: list[str], layout: Layout, answers: Answers) -> _Timed | Unclear:
    """Time since the start, as numbers in a told unit or as hours:minutes:seconds."""
    if answers.start is None:
        return Unclear("start", ())
    clock = read_moments(cells)
    if clock.ok.mean() > 0.5:
        lasted = np.where(clock.ok, clock.second, np.nan)
    else:
        named = layout.header[layout.times[0]]
        unit = answers.elapsed_unit or _elapsed_unit(named)
        if unit is None:
            return Unclear("elapsed_unit", ("s", "min", "h"), {"value": cells[0]})
        lasted = read_values(cells, decimal_sign_of(cells)) * _ELAPSED_S[unit]
    return _Timed(answers.start.timestamp() + lasted, "elapsed", "UTC")


def _elapsed_unit(named: str) -> str | None:
    for unit, words in (("h", r"\bh\b|hour|stunde"), ("min", r"\bmin"), ("s", r"\bs\b|\bsec|sekunde")):
        if re.search(words, named, re.IGNORECASE):
            return unit
    return None
