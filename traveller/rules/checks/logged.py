"""The log of a load: what every kind of check that judges temperatures has to find first."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime

from traveller.rules.checks.base import Box, CheckFigure, CheckVerdict, LoadEvidence, Question
from traveller.rules.checks.degrees import Length, degrees_shown
from traveller.rules.checks.window import HELD_WORDS, time_boxes, time_questions
from traveller.rules.soak import Trace, part_of, trace

__all__ = ["LOGGED_WORDS", "log_boxes", "log_questions", "part_judged", "stamp"]

LOGGED_WORDS: Mapping[str, str] = {
    "logged.no_log": "Load {load}: no temperature log was sent that can be read.",
    "logged.not_started": "Load {load}: the start was not recorded, so no part of the log is known to be this load.",
    "logged.not_ended": "Load {load}: the end was not recorded, so no part of the log is known to be this load.",
    "logged.ends_before_start": "Load {load}: the end ({ended}) is before the start ({started}).",
    "logged.another_time": "Load {load}: the log runs from {log_first} to {log_last}, "
    "the load from {started} to {ended}.",
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


def part_judged(load: LoadEvidence, gap: Length) -> tuple[Trace | None, CheckVerdict | None, dict[str, CheckFigure]]:
    """The part of the log between the load's start and end; a verdict where that cannot be had.

    A shift-long log proves no single load: without its two times nothing is judged. Figures name the
    load, its times, and gaps longer than allowed.
    """
    figures: dict[str, CheckFigure] = {"load": load.number, "gap_most": degrees_shown(float(gap.seconds))}
    if load.late_reason:
        figures["late_reason"] = load.late_reason
    if load.log is None:
        return None, CheckVerdict("missing", "logged.no_log", figures), figures
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
    found = part_of(trace(load.log.times, load.log.celsius, float(gap.seconds)), start, end)
    if found is None:
        return None, CheckVerdict("missing", "logged.another_time", figures), figures
    figures["gaps"] = len(found.gaps)
    figures["longest_gap"] = degrees_shown(found.longest_gap_s, up=True)
    figures["gap_times"] = [f"{stamp(a)} / {stamp(b)}" for a, b in found.gaps[:10]]
    return found, CheckVerdict("missing", "logged.gap", figures) if found.gaps else None, figures
