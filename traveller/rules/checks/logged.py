"""The log of a load: what every kind of check that judges temperatures has to find first."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from decimal import Decimal
from typing import Final

from traveller.rules.checks.base import Box, CheckFigure, CheckVerdict, LoadEvidence, Question
from traveller.rules.checks.degrees import Length, degrees_shown
from traveller.rules.checks.fields import Duration, Field
from traveller.rules.checks.probe import PROBE_WORDS
from traveller.rules.checks.window import HELD_WORDS, time_boxes, time_questions
from traveller.rules.logs.found import Log
from traveller.rules.soak import HAIR_S, Trace, part_of, trace

__all__ = [
    "GAP",
    "GAP_FIELD",
    "LOGGED_WORDS",
    "gap_allowed",
    "log_boxes",
    "log_questions",
    "notes_of",
    "part_judged",
    "stamp",
]

# Common practice, no source.
GAP = Length(Decimal(2), "min")
GAP_FIELD = Field(
    "gap",
    Duration(),
    "The longest time without a reading of the log; 2 min is common practice, with no source.",
    GAP.words(),
    unit="s, min or h behind it",
)
# How much longer than a logger's usual interval a pause is a gap, and how many intervals of what is to be proved a log
# must show: common practice, no source.
_OWN_INTERVALS: Final = 1.5
_READINGS_LEAST: Final = 4

LOGGED_WORDS: Mapping[str, str] = {
    "logged.no_log": "Load {load}: no temperature log was sent that can be read.",
    "logged.asked": "Load {load}: a temperature log was sent; it proves nothing until what is asked about it is "
    "answered.",
    "logged.not_started": "Load {load}: the start was not recorded, so no part of the log is known to be this load.",
    "logged.not_ended": "Load {load}: the end was not recorded, so no part of the log is known to be this load.",
    "logged.ends_before_start": "Load {load}: the end ({ended}) is before the start ({started}).",
    "logged.another_time": "Load {load}: the log runs from {log_first} to {log_last}, "
    "the load from {started} to {ended}.",
    "logged.coarse": "Load {load}: logged every {every}; to prove {proves} a reading at least every {every_most} "
    "is needed.",
    "logged.note_every": "Logged every {every}.",
    "logged.note_gap": "Nothing was logged for up to {longest_gap} s (gaps: {gaps}); that time is not counted.",
    **PROBE_WORDS,
    "logged.gap": "Load {load}: nothing was logged for up to {longest_gap} s (gaps: {gaps}); more than {gap_most} s "
    "without a reading proves nothing.",
    "ask.started_at": HELD_WORDS["ask.started_at"],
    "ask.ended_at": HELD_WORDS["ask.ended_at"],
    "ask.log": "The temperature log of this load?",
}


def log_questions() -> tuple[Question, ...]:
    """The two times of a load, and its log."""
    return (*time_questions(), Question("log", "ask.log", "", "log", None, None, "load", told="load"))


def log_boxes() -> tuple[Box, ...]:
    """Times in and out, and which log."""
    return (*time_boxes(), Box("Log (file or strip)", "", 12))


def stamp(second: float) -> str:
    """A time from a log as it is written in figures."""
    return datetime.fromtimestamp(second, UTC).isoformat(timespec="seconds")


def gap_allowed(log: Log, gap: Length, proves_s: float | None) -> float:
    """The longest time in seconds between two readings: the check's, or one and a half of the logger's own interval.

    A logger that writes every five minutes has no gap of five minutes; but of a time of twenty it must show a few
    readings, else a dip between two of them would go unseen.
    """
    own = _OWN_INTERVALS * log.said.interval_s
    return float(gap.seconds) if _too_coarse(log, proves_s) else max(float(gap.seconds), own)


def _too_coarse(log: Log, proves_s: float | None) -> bool:
    return proves_s is not None and log.said.interval_s * _READINGS_LEAST > proves_s + HAIR_S


def _long(seconds: float, *, up: bool = False) -> str:
    """A length of time with its unit, as it is said."""
    if seconds < 120:
        return f"{degrees_shown(seconds, up=up)} s"
    return f"{degrees_shown(seconds / 60, up=up)} min"


def notes_of(figures: dict[str, CheckFigure], *more: str) -> None:
    """Further sentences behind the verdict's own, by their codes; their figures stand among the verdict's."""
    found = figures.get("notes", [])
    assert isinstance(found, list)
    figures["notes"] = [*found, *(code for code in more if code not in found)]


def part_judged(
    load: LoadEvidence, gap: Length, proves_s: float | None
) -> tuple[Trace | None, CheckVerdict | None, dict[str, CheckFigure]]:
    """The part of the log between the load's start and end; a verdict where that cannot be had, or lacks something.

    A shift-long log proves no single load: without its two times nothing is judged. Figures name the load, its times,
    and gaps longer than allowed. `proves_s` is the shortest time in seconds that is to be proved.
    """
    allowed = float(gap.seconds) if load.log is None else gap_allowed(load.log, gap, proves_s)
    figures: dict[str, CheckFigure] = {"load": load.number, "gap_most": degrees_shown(allowed)}
    if load.late_reason:
        figures["late_reason"] = load.late_reason
    if load.log is None:
        lacks = "logged.asked" if load.log_asked else "logged.no_log"
        return None, CheckVerdict("missing", lacks, figures), figures
    if load.started_at is None:
        return None, CheckVerdict("missing", "logged.not_started", figures), figures
    figures["started"] = load.started_at.isoformat()
    if load.ended_at is None:
        return None, CheckVerdict("missing", "logged.not_ended", figures), figures
    figures["ended"] = load.ended_at.isoformat()
    start, end = load.started_at.timestamp(), load.ended_at.timestamp()
    if end < start:
        return None, CheckVerdict("missing", "logged.ends_before_start", figures), figures
    figures["log_first"] = stamp(float(load.log.times[0]))
    figures["log_last"] = stamp(float(load.log.times[-1]))
    found = part_of(trace(load.log.times, load.log.celsius, allowed), start, end)
    if found is None:
        return None, CheckVerdict("missing", "logged.another_time", figures), figures
    figures["gaps"] = len(found.gaps)
    figures["longest_gap"] = degrees_shown(found.longest_gap_s, up=True)
    figures["gap_times"] = [f"{stamp(a)} / {stamp(b)}" for a, b in found.gaps[:10]]
    coarse = load.log.said.interval_s > gap.seconds
    if coarse:
        figures["every"] = _long(load.log.said.interval_s)
        notes_of(figures, "logged.note_every")
    if not found.gaps:
        return found, None, figures
    if coarse and proves_s is not None and _too_coarse(load.log, proves_s):
        figures |= {"proves": _long(proves_s), "every_most": _long(max(proves_s / _READINGS_LEAST, float(gap.seconds)))}
        return found, CheckVerdict("missing", "logged.coarse", figures), figures
    return found, CheckVerdict("missing", "logged.gap", figures), figures
