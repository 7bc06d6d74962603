"""What a logger's file says, in words: how it was understood, what is wrong, what must be asked, what does not fit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils import formats, timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from traveller.batches.files.decoded import BeingRead
from traveller.rules.logs import Fault, Log, NotALog, Unclear, misfits
from traveller.rules.moments import on_clocks
from traveller.web.door import read_time
from traveller.web.templatetags.look import whole
from traveller.web.words import say

# Who stands at an oven reads a few lines; how many more there are is said below them.
LINES_SHOWN = 8


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer to what the reader asks: the name and value that are sent, and what the button says."""

    field: str
    value: str
    words: str


@dataclass(frozen=True, slots=True)
class Seen:
    """A log for a page: read, asked about, or no log at all."""

    words: str
    question: str = ""
    choices: tuple[Choice, ...] = ()
    # The start of a log that only counts up is typed where no choice fits.
    asks_time: bool = False
    faults: tuple[str, ...] = ()
    more: str = ""
    misfits: tuple[str, ...] = ()
    is_read: bool = False


def seen(
    found: Log | Unclear | NotALog | BeingRead,
    zone: ZoneInfo,
    *,
    started_at: datetime | None = None,
    ended_at: datetime | None = None,
    now: datetime,
) -> Seen:
    """Words for what came out of the file; times in the site's zone, against the load's own times where known."""
    with timezone.override(zone):
        if isinstance(found, NotALog | BeingRead):
            return Seen(say(found.code, found.figures))
        if isinstance(found, Unclear):
            return _asked(found, zone, started_at, now)
        shown = tuple(_line(fault) for fault in found.faults[:LINES_SHOWN])
        rest = found.said.faults - len(shown)
        more = ngettext("And %(n)s more like it.", "And %(n)s more like these.", rest) % {"n": whole(rest)}
        return Seen(
            understood(found, zone),
            faults=shown,
            more=more if rest > 0 else "",
            misfits=tuple(say(one.code, one.figures) for one in misfits(found, started_at, ended_at, now)),
            is_read=True,
        )


def answer_in(posted: Mapping[str, str], log: Seen, zone: ZoneInfo) -> dict[str, str]:
    """What was answered, if it was among the choices; or the start of the log as it was typed, in site time."""
    for choice in log.choices:
        if posted.get(choice.field) == choice.value:
            return {choice.field: choice.value}
    start = read_time(posted.get("start", "").strip(), zone) if log.asks_time else None
    return {"start": start.isoformat()} if isinstance(start, datetime) else {}


def understood(log: Log, zone: ZoneInfo) -> str:
    """ "Read as: day first, Fahrenheit, channel 2 (oven), 1 reading every 10 s, 14:02 to 16:31 site time ..." """
    reported = [_dates(log.said.dates), _("Fahrenheit") if log.said.unit == "F" else _("Celsius")]
    if len(log.said.channels) > 1:
        reported.append(
            _("channel %(n)d of %(all)d (%(name)s)")
            % {"n": log.said.channel_number, "all": len(log.said.channels), "name": log.said.channel}
        )
    reported.append(_every(log.said.interval_s))
    reported.append(_span(on_clocks(log.started_at, zone), on_clocks(log.ended_at, zone)))
    if log.said.newest_first:
        reported.append(_("written newest first"))
    figures = {"told": ", ".join(reported), "n": whole(int(log.times.size))}
    return _("Read as: %(told)s. %(n)s readings; between them the temperature is taken as a straight line.") % figures


def _dates(how: str) -> str:
    return {
        "iso": _("year first"),
        "year": _("year first"),
        "day": _("day first"),
        "month": _("month first"),
        "words": _("months in words"),
        "clock": _("times without a date"),
        "elapsed": _("time since the start"),
        "epoch": _("seconds since 1970"),
        "serial": _("days of a spreadsheet"),
    }[how]


def _every(seconds: float) -> str:
    if seconds >= 60 and seconds % 60 == 0:
        return _("1 reading / %(n)d min") % {"n": int(seconds // 60)}
    return _("1 reading / %(n)s s") % {"n": f"{seconds:g}"}


def _span(first: datetime, last: datetime) -> str:
    """From and to on the site's clock; the day is named once where it is one day."""
    figures = {
        "day": _day(first.date()),
        "to_day": _day(last.date()),
        "first": formats.date_format(first, "H:i"),
        "last": formats.date_format(last, "H:i"),
    }
    if first.date() == last.date():
        return _("%(day)s, %(first)s to %(last)s site time") % figures
    return _("%(day)s, %(first)s to %(to_day)s, %(last)s site time") % figures


def _day(day: date) -> str:
    # Translators: a day with its year; Django date format letters.
    return formats.date_format(day, _("j M Y"))


def _line(fault: Fault) -> str:
    return say(fault.code, {"line": fault.line, **fault.figures})


def _asked(found: Unclear, zone: ZoneInfo, started_at: datetime | None, now: datetime) -> Seen:
    words = _("It is kept. Before it can be judged, one thing must be known.")
    question = say(found.code, found.figures)
    if found.question == "start":
        offered: tuple[Choice, ...] = ()
        if started_at is not None:
            at = formats.date_format(on_clocks(started_at, zone), "H:i")
            when_in = _("When the load went in (%(at)s)") % {"at": at}
            offered = (Choice("start", started_at.isoformat(), when_in),)
        return Seen(words, question, offered, asks_time=True)
    if found.question == "zone":
        return Seen(
            words, question, (Choice("zone", zone.key, _("The site's own clock")), Choice("zone", "UTC", "UTC"))
        )
    if found.question == "clock":
        return Seen(words, question, _fixed(found, zone, now))
    if found.question in ("fahrenheit", "celsius", "kelvin"):
        # An answer of its own, so that the doubt ends with it, whatever the file or somebody said before.
        said = {"F": _("They are Fahrenheit"), "C": _("They are Celsius"), "K": _("They are kelvin")}
        return Seen(words, question, tuple(Choice("unit_sure", value, said[value]) for value in found.choices))
    return Seen(words, question, tuple(Choice(found.question, v, _choice(found.question, v)) for v in found.choices))


def _fixed(found: Unclear, zone: ZoneInfo, now: datetime) -> tuple[Choice, ...]:
    """A logger that does not follow the clock changes stays in winter or in summer time."""
    offsets = {event_context.astimezone(zone).strftime("%z") for event_context in (now, now + timedelta(days=182))}
    fixed = dict.fromkeys([*found.choices, *sorted(f"{text[:3]}:{text[3:5]}" for text in offsets)])
    said = _("Yes: it stayed at %(offset)s from Greenwich")
    return tuple(Choice("zone", value, said % {"offset": value}) for value in fixed)


def _probe(value: str) -> str:
    return {
        "part": _("Inside a part"),
        "surface": _("On the surface of a part"),
        "mould": _("In the face of the mould"),
        "platen": _("In the platen of the press"),
        "air": _("In the air of the oven"),
    }[value]


def _choice(question: str, value: str) -> str:
    if question == "date_order":
        return {"day": _("Day first"), "month": _("Month first"), "year": _("Year first")}.get(value, value)
    if question == "unit":
        return {"C": _("Celsius"), "F": _("Fahrenheit"), "K": _("kelvin")}[value]
    if question == "probe":
        return _probe(value)
    if question == "oven":
        return _("It is this load's log") if value == "same" else _("It is another load's log")
    if question == "elapsed_unit":
        return {"s": _("Seconds"), "min": _("Minutes"), "h": _("Hours")}.get(value, value)
    return value
