"""Has the founder approved the first piece? A decision counts for what it was given: the same set-up, not the batch.

Until then only a capped number of pieces may be made. An approval carries over to the next batch of the same
operation, and is reopened by a change of design, mould, cavities, material, machine or place, and by a long lapse;
by fewer open cavities in mid-run too, since a mould that runs otherwise fills otherwise. A change of the material
is one of its part and revision (the grade): every delivery of the same grade is a lot of its own, and its lots are
proved by what is asked of lots. Only decisions of the founder are evidence here; a reading approves nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime, timedelta

from traveller.rules.checks.base import (
    LOAD_WORDS,
    ApprovalEvidence,
    Box,
    CheckFigure,
    CheckKind,
    CheckVerdict,
    Evidence,
    Judged,
    LimitWord,
    MadeWith,
    ParamError,
    Question,
    elapsed,
)
from traveller.rules.checks.columns import CheckCells

__all__ = [
    "ASKED",
    "CHANGES",
    "COLUMNS",
    "KIND",
    "WORDS",
    "ApprovalParams",
    "allowed",
    "changed",
    "judge",
    "parse",
    "unmeasured",
]

COLUMNS: tuple[str, ...] = ("cap", "every_cavity", "lapse")
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

# What may have changed, by its name in MadeWith.
CHANGES: Mapping[str, str] = {
    "design": "approval.change.design",
    "tool": "approval.change.tool",
    "cavities": "approval.change.cavities",
    "material": "approval.change.material",
    "place": "approval.change.place",
    "machines": "approval.change.machines",
}


@dataclass(frozen=True)
class ApprovalParams:
    """Pieces before approval (None: no cap), whether each cavity must be measured, days until it lapses."""

    cap: int | None = None
    every_cavity: bool = False
    lapse_days: int | None = None


def parse(raw: Mapping[str, str]) -> ApprovalParams | list[ParamError]:
    """Read the columns cap (pieces), every_cavity (yes or no), lapse (days); empty: not asked."""
    row = CheckCells(raw)
    cap = row.whole("cap", 1) if row.text("cap") else None
    lapse = row.whole("lapse", 1) if row.text("lapse") else None
    every_cavity = row.yes("every_cavity")
    return row.errors or ApprovalParams(cap, every_cavity, lapse)


def dump(params: ApprovalParams) -> dict[str, str]:
    """The columns again."""
    return {
        "cap": "" if params.cap is None else str(params.cap),
        "every_cavity": "yes" if params.every_cavity else "no",
        "lapse": "" if params.lapse_days is None else str(params.lapse_days),
    }


def questions(params: ApprovalParams) -> tuple[Question, ...]:
    """One tick, for the founder."""
    return (Question(ASKED, "ask.first_off", "", "tick", None, None, "step"),)


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


def changed(approved: MadeWith, now: MadeWith) -> list[str]:
    """What differs between what was approved and what is run: design, tool, cavities, material, place, machines.

    Fewer cavities than were approved are no new thing to approve, but a mould run differently: they count.
    Fewer machines do not: each of them was approved.
    """
    found = []
    for one in fields(MadeWith):
        before, after = getattr(approved, one.name), getattr(now, one.name)
        differs = not set(after) <= set(before) if one.name == "machines" else before != after
        if before and after and differs:
            found.append(one.name)
    return found


def unmeasured(evidence: Evidence, decided_at: datetime, measured: Sequence[int] = ()) -> list[int]:
    """The open cavities from which nothing was measured by the time of a decision."""
    found = {
        reading.cavity
        for reading in evidence.readings
        if reading.number is not None and elapsed(reading.taken_at, decided_at).total_seconds() >= 0
    }
    return [cavity for cavity in evidence.open_cavities if cavity not in found | set(measured)]


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


KIND: CheckKind[ApprovalParams] = CheckKind(
    name="approval",
    columns=COLUMNS,
    scopes=("step", "lot", "load"),
    parse=parse,
    dump=dump,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
)
