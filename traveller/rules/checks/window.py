"""Was each load held long enough, and not too long? Minutes between its start and its end.

Starting values for the workbook, common practice with no source: 15 min on the cooling fixture, 8 min of
cure, and the oven between two print colours. The material's data sheet overrides them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
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
from traveller.rules.checks.fields import Field, Unit, limit_fields
from traveller.rules.checks.kind import CheckKind, Limited
from traveller.rules.checks.limits import LIMIT_WORDS, TIME_UNITS, Limits, read_limits, shown_length
from traveller.rules.checks.quantities import TIME

__all__ = ["HELD_WORDS", "KIND", "WORDS", "WindowParams", "judge", "judge_held", "time_boxes", "time_questions"]

READS = (
    *limit_fields(
        "time between in and out",
        "held",
        Field("unit", Unit(quantity=TIME), "In which unit least and most are.", "min", within="held"),
    ),
)

HELD_WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    **LIMIT_WORDS,
    "held.passed": "Load {load}: {lasted} {unit}.",
    "held.step_passed": "{lasted} {unit} from the first start to the last end.",
    "held.too_short": "Load {load}: {lasted} {unit}, at least {least} {unit} needed.",
    "held.step_too_short": "{lasted} {unit} from the first start to the last end, at least {least} {unit} needed.",
    "held.too_long": "Load {load}: {lasted} {unit}, at most {most} {unit} allowed.",
    "held.step_too_long": "{lasted} {unit} from the first start to the last end, at most {most} {unit} allowed.",
    "held.not_started": "Load {load}: the start was not recorded.",
    "held.step_not_started": "A load's start was not recorded.",
    "held.not_ended": "Load {load}: the end was not recorded.",
    "held.step_not_ended": "A load's end was not recorded.",
    "held.ends_before_start": "Load {load}: the end ({ended}) is before the start ({started}).",
    "held.step_ends_before_start": "The last end ({ended}) is before the first start ({started}).",
    "ask.started_at": "When did it go in?",
    "ask.ended_at": "When did it come out?",
}
WORDS: Mapping[str, str] = HELD_WORDS


@dataclass(frozen=True)
class WindowParams:
    """How long a load must and may be held."""

    held: Limits


def build(row: CheckCells, found: Mapping[str, Any]) -> WindowParams | None:
    """The limits, where there is one."""
    held = read_limits(row, found)
    return None if held is None else WindowParams(held)


def time_questions() -> tuple[Question, ...]:
    """Start and end of each load."""
    return (
        Question("started_at", "ask.started_at", "", "time", None, None, "load", told="load"),
        Question("ended_at", "ask.ended_at", "", "time", None, None, "load", told="load"),
    )


def time_boxes() -> tuple[Box, ...]:
    """Boxes for the two times."""
    return (Box("In", "time", 8), Box("Out", "time", 8))


def questions(params: WindowParams) -> tuple[Question, ...]:
    """Start and end of each load."""
    return time_questions()


def boxes(params: WindowParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """Times in and out, and the length that somebody works out on paper."""
    return (*time_boxes(), Box("Held", params.held.unit, 6))


def limit_words(params: WindowParams) -> list[LimitWord]:
    """The limit in short."""
    return params.held.words()


def judge_held(limits: Limits, load: LoadEvidence) -> CheckVerdict:
    """One load's time between its start and its end; load number 0 is the step taken as one."""
    prefix = "held.step_" if load.number == 0 else "held."
    figures: dict[str, CheckFigure] = {"load": load.number, **limits.figures()}
    if load.late_reason:
        figures["late_reason"] = load.late_reason
    if load.started_at is None:
        return CheckVerdict("missing", f"{prefix}not_started", figures)
    figures["started"] = load.started_at.isoformat()
    if load.ended_at is None:
        return CheckVerdict("missing", f"{prefix}not_ended", figures)
    figures["ended"] = load.ended_at.isoformat()
    lasted = elapsed(load.started_at, load.ended_at)
    # Times that contradict each other prove neither a good load nor a bad one.
    if lasted.total_seconds() < 0:
        return CheckVerdict("missing", f"{prefix}ends_before_start", figures)
    figures["lasted"] = shown_length(lasted, limits)
    side = limits.side_of_length(lasted)
    if side == "below":
        return CheckVerdict("failed", f"{prefix}too_short", figures)
    if side == "above":
        return CheckVerdict("failed", f"{prefix}too_long", figures)
    return CheckVerdict("passed", f"{prefix}passed", figures)


def judge(params: WindowParams, evidence: Evidence) -> Judged:
    """Every load by itself; pieces that no load holds are missing evidence."""
    return judged_by_load(evidence, lambda load: judge_held(params.held, load))


def timer(params: WindowParams) -> int | None:
    """The least time, in seconds."""
    least = params.held.least
    return None if least is None else int(least * TIME_UNITS[params.held.unit])


KIND: CheckKind[WindowParams] = CheckKind(
    name="window",
    order=10,
    title="Time held",
    about="Each load was held long enough, and not too long, by the times it went in and came out.",
    fields=READS,
    example={"least": "15", "most": "60", "unit": "min"},
    scopes=("load", "step"),
    needs={"times": "load", "counts": "load"},
    build=build,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
    limits=lambda params: (Limited("held", params.held),),
    timer=timer,
    by_load=True,
)
