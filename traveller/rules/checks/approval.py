"""Has the founder approved the first piece? A decision counts for what it was given: the same set-up, not the batch.

Until then only a capped number of pieces may be made. An approval carries over to the next batch of the same
operation, and is reopened by a change of design, mould, cavities, material, machine or place, and by a long lapse;
by fewer open cavities in mid-run too, since a mould that runs otherwise fills otherwise. A change of the material
is one of its part and revision (the grade): every delivery of the same grade is a lot of its own, and its lots are
proved by what is asked of lots. Only decisions of the founder are evidence here; a reading approves nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from typing import Any

from traveller.rules.checks.base import (
    LOAD_WORDS,
    ApprovalEvidence,
    Box,
    CheckFigure,
    CheckVerdict,
    Evidence,
    Judged,
    LimitWord,
    Question,
    elapsed,
)
from traveller.rules.checks.columns import CheckCells
from traveller.rules.checks.fields import Field, Ticked, Whole
from traveller.rules.checks.first_piece import changed, unmeasured
from traveller.rules.checks.kind import CheckKind, Limited, Terms
from traveller.rules.checks.limits import Limits

__all__ = ["ASKED", "KIND", "WORDS", "ApprovalParams", "allowed", "judge"]

READS = (
    Field("cap", Whole(), "How many pieces may be made before the first piece is approved.", unit="pieces"),
    Field("every_cavity", Ticked(), "Whether every open cavity must be measured before.", default="no"),
    Field(
        "lapse", Whole(), "After how many days without production it is approved anew.", unit="days", keeps="lapse_days"
    ),
)
ASKED = "first_off"

WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    "approval.passed": "The first-off was approved ({decided}).",
    "approval.refused": "The first-off was refused ({decided}).",
    "approval.waiting": "The first-off waits for approval.",
    "approval.refused_elsewhere": "The first-off of another batch was refused last ({decided}); this one waits for "
    "approval.",
    "approval.over_cap": "{made} pieces were made, but only {cap} may be made before the first-off is approved.",
    "approval.cavity_not_measured": "The first-off was approved ({decided}), but nothing was measured from "
    "cavity {cavity}.",
    "approval.cavities_unknown": "Nobody said which cavities are open.",
    "approval.reopened": "The first-off was approved ({decided}) for something else: {changes} changed since.",
    "approval.lapsed": "The first-off was approved ({decided}), but nothing was made for {idle} days; "
    "after {lapse} it is approved anew.",
    "approval.change.design": "the design",
    "approval.change.tool": "the mould",
    "approval.change.cavities": "the open cavities",
    "approval.change.material": "the material",
    "approval.change.place": "the place",
    "approval.change.machines": "the machine",
    "limit.approval": "first-off approved",
    "limit.cap": "at most {cap} pieces before the first-off is approved",
    "limit.every_cavity_measured": "every open cavity measured",
    "limit.lapse": "approved anew after {lapse} days without production",
    "ask.first_off": "Is the first-off approved?",
}


@dataclass(frozen=True)
class ApprovalParams:
    """Pieces before approval (None: no cap), whether each cavity must be measured, days until it lapses."""

    cap: int | None = None
    every_cavity: bool = False
    lapse_days: int | None = None


def build(row: CheckCells, found: Mapping[str, Any]) -> ApprovalParams | None:
    """What is asked beside the approval itself."""
    return None if row.errors else ApprovalParams(found["cap"], found["every_cavity"], found["lapse"])


def questions(params: ApprovalParams) -> tuple[Question, ...]:
    """One tick, for the founder."""
    return (Question(ASKED, "ask.first_off", "", "tick", None, None, "step", told="founder"),)


def boxes(params: ApprovalParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """Who approved, and when."""
    return (Box("First-off approved by", "", 12), Box("Date", "", 8))


def limit_words(params: ApprovalParams) -> list[LimitWord]:
    """First piece approved; what else is asked."""
    words: list[LimitWord] = [("limit.approval", {})]
    if params.cap is not None:
        words.append(("limit.cap", {"cap": params.cap}))
    if params.every_cavity:
        words.append(("limit.every_cavity_measured", {}))
    if params.lapse_days is not None:
        words.append(("limit.lapse", {"lapse": params.lapse_days}))
    return words


def _idle_days(decision: ApprovalEvidence, evidence: Evidence) -> int:
    """Whole days between the approval, or the last run after it, and the start of this step."""
    if evidence.started_at is None:
        return 0
    moments = [decision.decided_at, *([decision.last_run_at] if decision.last_run_at else [])]
    idle = min(elapsed(moment, evidence.started_at) for moment in moments)
    return max(timedelta(), idle) // timedelta(days=1)


def _open(params: ApprovalParams, evidence: Evidence, decision: ApprovalEvidence) -> CheckVerdict | None:
    """Why a decision is no approval of what is run now; None where it is."""
    figures: dict[str, CheckFigure] = {"decided": decision.decided_at.isoformat()}
    if not decision.approved:
        if decision.elsewhere:
            return CheckVerdict("missing", "approval.refused_elsewhere", figures)
        return CheckVerdict("failed", "approval.refused", figures)
    if changes := changed(decision.made_with, evidence.made_with):
        return CheckVerdict("missing", "approval.reopened", {**figures, "changes": changes})
    if params.lapse_days is not None and (idle := _idle_days(decision, evidence)) > params.lapse_days:
        return CheckVerdict("missing", "approval.lapsed", {**figures, "idle": idle, "lapse": params.lapse_days})
    if params.every_cavity:
        if not evidence.open_cavities:
            return CheckVerdict("missing", "approval.cavities_unknown", figures)
        if left := unmeasured(evidence, decision.decided_at, decision.measured):
            return CheckVerdict("missing", "approval.cavity_not_measured", {**figures, "cavity": left[0]})
    return None


def _standing(params: ApprovalParams, evidence: Evidence) -> CheckVerdict:
    """What the decisions say, before anything is counted.

    The batch's own latest decision first: its refusal is a matter of its own pieces, whatever was approved
    elsewhere. One that was taken elsewhere counts where it is the later one, or the only one.
    """
    latest = sorted(evidence.approvals, key=lambda decision: decision.decided_at.timestamp())
    own = next((one for one in reversed(latest) if not one.elsewhere), None)
    other = next((one for one in reversed(latest) if one.elsewhere), None)
    if own is not None and other is not None and (not own.approved or latest.index(other) < latest.index(own)):
        other = None
    verdict = CheckVerdict("missing", "approval.waiting")
    for decision in (own, other):
        if decision is None:
            continue
        found = _open(params, evidence, decision)
        if found is None:
            return CheckVerdict("passed", "approval.passed", {"decided": decision.decided_at.isoformat()})
        verdict = found
    return verdict


def _made(evidence: Evidence) -> int:
    """Pieces made with what is not approved."""
    return evidence.counts.counted if evidence.made_since is None else evidence.made_since


def allowed(params: ApprovalParams, evidence: Evidence) -> int | None:
    """How many more pieces may be made before the first piece is approved; None: as many as are wanted."""
    if params.cap is None or _standing(params, evidence).outcome == "passed":
        return None
    return max(0, params.cap - _made(evidence))


def judge(params: ApprovalParams, evidence: Evidence) -> Judged:
    """The approval that stands; without one the step waits, and has failed where more was made than may be."""
    verdict = _standing(params, evidence)
    if verdict.outcome != "missing" or params.cap is None or (made := _made(evidence)) <= params.cap:
        return Judged(verdict)
    return Judged(CheckVerdict("failed", "approval.over_cap", {**verdict.figures, "made": made, "cap": params.cap}))


def limits(params: ApprovalParams) -> tuple[Limited, ...]:
    """The cap, and the days until it lapses."""
    caps = (("made", params.cap, "pieces"), ("idle", params.lapse_days, "days"))
    return tuple(Limited(name, Limits(None, Decimal(most), unit)) for name, most, unit in caps if most is not None)


KIND: CheckKind[ApprovalParams] = CheckKind(
    name="approval",
    order=110,
    title="First piece approved",
    about="The founder approved the first piece made with this set-up.",
    fields=READS,
    example={"cap": "20", "every_cavity": "yes", "lapse": "90"},
    scopes=("step", "lot", "load"),
    needs={"decisions": "lot", "readings": "cavity", "counts": "step"},
    build=build,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
    limits=limits,
    allowed=allowed,
    terms=lambda params: Terms(every_cavity=params.every_cavity, lapse_days=params.lapse_days, cap=params.cap),
)
