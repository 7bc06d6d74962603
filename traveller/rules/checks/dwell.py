"""How long between two steps? From the end of the step before, or of one further back, to the start of this one.

A dwell has a least (ink must stand before the next colour), a most (the pin goes in within a minute of
opening the mould), or both. Where the step before ended in several loads, nobody knows which of its pieces
went into which load here, so both ends are tried: the youngest piece must have waited long enough and the
oldest not too long, and what lies between is missing evidence.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from traveller.rules.checks.base import (
    LOAD_WORDS,
    Box,
    CheckFigure,
    CheckVerdict,
    Evidence,
    Judged,
    LimitWord,
    LoadEvidence,
    Question,
    elapsed,
    judged_by_load,
)
from traveller.rules.checks.columns import CheckCells
from traveller.rules.checks.fields import Field, Unit, Whole, limit_fields
from traveller.rules.checks.kind import STEP_BEFORE, CheckKind, Limited, Terms
from traveller.rules.checks.limits import LIMIT_WORDS, Limits, read_limits, shown_length
from traveller.rules.checks.quantities import TIME

__all__ = ["KIND", "WORDS", "DwellParams", "judge"]

READS = (
    *limit_fields(
        "wait between the two steps",
        "wait",
        Field("unit", Unit(quantity=TIME), "In which unit least and most are.", "min", within="wait"),
    ),
    Field("after", Whole(), "The step whose end the wait is counted from; empty: the one right before."),
)

WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    **LIMIT_WORDS,
    "dwell.passed": "Load {load}: {waited} {unit} after the step before.",
    "dwell.step_passed": "{waited} {unit} after the step before.",
    "dwell.too_short": "Load {load}: started {waited} {unit} after the step before, at least {least} {unit} needed.",
    "dwell.step_too_short": "Started {waited} {unit} after the step before, at least {least} {unit} needed.",
    "dwell.too_long": "Load {load}: started {waited} {unit} after the step before, at most {most} {unit} allowed.",
    "dwell.step_too_long": "Started {waited} {unit} after the step before, at most {most} {unit} allowed.",
    "dwell.cannot_tell": "Load {load}: pieces may have waited from {shortest} to {longest} {unit}.",
    "dwell.step_cannot_tell": "Pieces may have waited from {shortest} to {longest} {unit}.",
    "dwell.started_before_end": "Load {load}: started ({started}) before the last step ended ({ended}).",
    "dwell.step_started_before_end": "Started ({started}) before the last step ended ({ended}).",
    "dwell.not_started": "Load {load}: the start was not recorded.",
    "dwell.step_not_started": "The start of this step was not recorded.",
    "dwell.no_end_before": "The end of the step before was not recorded.",
    "limit.after": "from the end of step {after}",
    "ask.started_at": "When did it go in?",
}


@dataclass(frozen=True)
class DwellParams:
    """How long pieces must and may wait after the step before, or after the step of that number."""

    wait: Limits
    after: int | None = None


def build(row: CheckCells, found: Mapping[str, Any]) -> DwellParams | None:
    """The limits, where there is one, and from which step on."""
    wait = read_limits(row, found)
    return None if wait is None else DwellParams(wait, found["after"])


def questions(params: DwellParams) -> tuple[Question, ...]:
    """The start of each load; the end of the step before is known from that step."""
    return (Question("started_at", "ask.started_at", "", "time", None, None, "load", told="load"),)


def boxes(params: DwellParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """The two times, side by side so that they can be compared on paper."""
    return (Box("Step before ended", "time", 8), Box("Start", "time", 8))


def limit_words(params: DwellParams) -> list[LimitWord]:
    """The limit in short."""
    words = params.wait.words()
    return words if params.after is None else [*words, ("limit.after", {"after": params.after})]


def _judge_start(
    limits: Limits,
    number: int,
    started_at: datetime | None,
    first_end: datetime | None,
    last_end: datetime | None,
) -> CheckVerdict:
    prefix = "dwell.step_" if number == 0 else "dwell."
    figures: dict[str, CheckFigure] = {"load": number, **limits.figures()}
    if last_end is None:
        return CheckVerdict("missing", "dwell.no_end_before", figures)
    figures["ended"] = last_end.isoformat()
    if started_at is None:
        return CheckVerdict("missing", f"{prefix}not_started", figures)
    figures["started"] = started_at.isoformat()
    shortest = elapsed(last_end, started_at)
    longest = shortest if first_end is None else max(shortest, elapsed(first_end, started_at))
    # Times that contradict each other prove neither a good wait nor a bad one.
    if longest < timedelta(0):
        return CheckVerdict("missing", f"{prefix}started_before_end", figures)
    sides = (limits.side_of_length(shortest), limits.side_of_length(longest))
    if sides[1] == "below":
        figures["waited"] = shown_length(longest, limits)
        return CheckVerdict("failed", f"{prefix}too_short", figures)
    if sides[0] == "above":
        figures["waited"] = shown_length(shortest, limits)
        return CheckVerdict("failed", f"{prefix}too_long", figures)
    # A load that starts before the step before has ended cannot hold the pieces that came last.
    if sides == ("inside", "inside") and shortest >= timedelta(0):
        figures["waited"] = shown_length(shortest, limits)
        return CheckVerdict("passed", f"{prefix}passed", figures)
    figures["shortest"] = shown_length(max(shortest, timedelta(0)), limits)
    figures["longest"] = shown_length(longest, limits)
    return CheckVerdict("missing", f"{prefix}cannot_tell", figures)


def judge(params: DwellParams, evidence: Evidence) -> Judged:
    """Each load's start, or the step's own start where it has no loads, against the end before."""
    first_end, last_end = evidence.previous_first_ended_at, evidence.previous_ended_at
    if params.after is not None:
        first_end, last_end = evidence.ends.get(params.after, (None, None))

    def judge_load(load: LoadEvidence) -> CheckVerdict:
        return _judge_start(params.wait, load.number, load.started_at, first_end, last_end)

    if not evidence.loads:
        return Judged(_judge_start(params.wait, 0, evidence.started_at, first_end, last_end))
    return judged_by_load(evidence, judge_load)


def terms(params: DwellParams) -> Terms:
    """The end of the step right before, or of the one that is named."""
    return Terms(ends=frozenset({STEP_BEFORE if params.after is None else params.after}))


KIND: CheckKind[DwellParams] = CheckKind(
    name="dwell",
    order=20,
    title="Wait between steps",
    about="Pieces waited long enough, and not too long, after an earlier step before this one began.",
    fields=READS,
    example={"least": "12", "most": "72", "unit": "h", "after": "30"},
    scopes=("load", "step"),
    needs={"times": "load", "ends": "step", "counts": "load"},
    build=build,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
    limits=lambda params: (Limited("wait", params.wait),),
    terms=terms,
    by_load=True,
)
