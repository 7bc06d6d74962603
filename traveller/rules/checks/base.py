"""What every kind of check shares: evidence in, a verdict of code and figures out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Literal, TypeAlias, get_args

from traveller.rules.checks.evidence import (
    ApprovalEvidence,
    CoreEvidence,
    CountEvidence,
    Evidence,
    LoadEvidence,
    MadeWith,
    MaterialEvidence,
    ReadingEvidence,
    TestedEvidence,
)
from traveller.rules.purposes import PURPOSE_ORDER, Purpose

__all__ = [
    "BLOCKS",
    "LOAD_WORDS",
    "ApprovalEvidence",
    "Blocks",
    "Box",
    "CheckFigure",
    "CheckVerdict",
    "CoreEvidence",
    "CountEvidence",
    "Evidence",
    "Judged",
    "LimitWord",
    "LoadEvidence",
    "MadeWith",
    "MaterialEvidence",
    "Outcome",
    "ParamError",
    "Question",
    "ReadingEvidence",
    "Scope",
    "TestedEvidence",
    "as_one_load",
    "blocks_purpose",
    "coverage",
    "elapsed",
    "judged_by_load",
    "worst",
]

Outcome = Literal["passed", "failed", "missing"]
Scope = Literal["load", "step", "lot", "piece"]
Blocks = Literal["step", "sending", "consuming", "packing", "nothing"]

CheckFigure: TypeAlias = int | str | list[str] | dict[str, int]
LimitWord: TypeAlias = tuple[str, Mapping[str, CheckFigure]]

BLOCKS: tuple[Blocks, ...] = get_args(Blocks)
# What a check's word of the workbook stops first.
_STOPS_FIRST: Mapping[Blocks, Purpose] = {"step": "start", "sending": "send", "consuming": "consume", "packing": "pack"}
_WEIGHT: Mapping[Outcome, int] = {"passed": 0, "missing": 1, "failed": 2}


def blocks_purpose(blocks: Blocks, purpose: Purpose) -> bool:
    """Whether a check that blocks `blocks` stands in the way of `purpose`; advice stands in no way."""
    first = _STOPS_FIRST.get(blocks)
    return first is not None and PURPOSE_ORDER.index(first) <= PURPOSE_ORDER.index(purpose)


def elapsed(start: datetime, end: datetime) -> timedelta:
    """True time between two aware times, right across midnight, clock changes and zones.

    Python subtracts two times of one zone by their wall clocks, so both are taken to UTC first.
    """
    return end.astimezone(UTC) - start.astimezone(UTC)


@dataclass(frozen=True)
class CheckVerdict:
    """An outcome, the code of its sentence (see each kind's WORDS) and the figures in that sentence."""

    outcome: Outcome
    code: str
    figures: Mapping[str, CheckFigure] = field(default_factory=dict)


def worst(verdicts: Iterable[CheckVerdict]) -> CheckVerdict | None:
    """The first of the gravest: failed before missing before passed."""
    found: CheckVerdict | None = None
    for verdict in verdicts:
        if found is None or _WEIGHT[verdict.outcome] > _WEIGHT[found.outcome]:
            found = verdict
    return found


@dataclass(frozen=True)
class Judged:
    """The verdict on the whole step, and on each of its loads by number where loads are judged."""

    step: CheckVerdict
    by_load: Mapping[int, CheckVerdict] = field(default_factory=dict)


LOAD_WORDS: Mapping[str, str] = {
    "loads.none": "No load was recorded.",
    "loads.uncovered": "{counted} pieces were counted, but the loads hold only {covered}.",
    "loads.all_passed": "Every load passed (loads: {loads}).",
}
NO_LOADS = CheckVerdict("missing", "loads.none")


def coverage(evidence: Evidence) -> CheckVerdict | None:
    """What is missing when pieces were counted that no load holds, or when there is no load at all."""
    if not evidence.loads:
        return NO_LOADS
    covered = sum(load.quantity for load in evidence.loads if load.ended_at or evidence.said_done)
    if covered < evidence.counts.counted:
        figures: dict[str, CheckFigure] = {"counted": evidence.counts.counted, "covered": covered}
        return CheckVerdict("missing", "loads.uncovered", figures)
    return None


def judged_by_load(evidence: Evidence, judge_load: Callable[[LoadEvidence], CheckVerdict]) -> Judged:
    """Each load by itself; the step is as good as its worst load, and lacks what no load covers.

    A load that is still in says nothing against the pieces that came out of others and may be sent ahead: until
    the step is said to be done, its missing end does not count, and neither does it cover any piece.
    """
    by_load = {load.number: judge_load(load) for load in evidence.loads}
    still_in = {load.number for load in evidence.loads if load.ended_at is None and not evidence.said_done}
    weighed = [v for number, v in by_load.items() if number not in still_in or v.outcome == "failed"]
    cover = coverage(evidence)
    gravest = worst([*(weighed or by_load.values()), *([cover] if cover else [])]) or NO_LOADS
    if gravest.outcome == "passed" and len(weighed) > 1:
        gravest = CheckVerdict("passed", "loads.all_passed", {"loads": len(weighed)})
    return Judged(gravest, by_load)


def as_one_load(evidence: Evidence) -> Evidence:
    """The same evidence with its loads taken as one, from the first start to the last end."""
    if not evidence.loads:
        return evidence
    starts = [load.started_at for load in evidence.loads]
    ends = [load.ended_at for load in evidence.loads]
    known_starts = [moment.astimezone(UTC) for moment in starts if moment is not None]
    known_ends = [moment.astimezone(UTC) for moment in ends if moment is not None]
    # One load without a time leaves the whole step without that time: nothing is guessed.
    whole = LoadEvidence(
        number=0,
        quantity=sum(load.quantity for load in evidence.loads),
        started_at=min(known_starts) if len(known_starts) == len(starts) else None,
        ended_at=max(known_ends) if len(known_ends) == len(ends) else None,
        late_reason="; ".join(load.late_reason for load in evidence.loads if load.late_reason),
    )
    return replace(evidence, loads=(whole,))


@dataclass(frozen=True)
class Question:
    """What is asked: `count` answers for each step, load, cavity or piece; limits as decimals.

    `told` says where: among what is measured, with the load's times, with the count, where the tester is tried, or by
    the founder. `expected` is the plan's word, where a word is to be confirmed; `plausible` what the gauge can show.
    """

    name: str
    prompt_code: str
    unit: str
    kind: Literal["number", "time", "text", "tick", "log"]
    low: str | None
    high: str | None
    each: Literal["step", "load", "cavity", "piece"]
    count: int = 1
    told: Literal["measured", "load", "count", "tester", "founder"] = "measured"
    expected: str = ""
    plausible: tuple[Decimal, Decimal] | None = None


@dataclass(frozen=True)
class Box:
    """A box to write in on paper: its English label, its unit, its width in characters."""

    label: str
    unit: str
    width: int


@dataclass(frozen=True)
class ParamError:
    """A column of the workbook's row that cannot be used, what would be right, and why where that needs saying."""

    column: str
    found: str
    wanted: str
    why: str = ""
