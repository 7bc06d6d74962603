"""Has the founder approved the first-off? The latest decision counts, for what it was given.

Until then only a capped number of pieces may be made. An approval is reopened by a change of design, mould,
cavities, material or place, and by a long lapse. Whether the person who ticked may decide it is a question of
access, settled before it becomes evidence.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime, timedelta

from traveller.rules.checks.base import (
    LOAD_WORDS,
    ApprovalEvidence,
    Box,
    CheckKind,
    Evidence,
    Figure,
    Judged,
    LimitWord,
    MadeWith,
    ParamError,
    Question,
    Verdict,
    elapsed,
)
from traveller.rules.checks.columns import Row

__all__ = ["COLUMNS", "KIND", "READING", "WORDS", "ApprovalParams", "changed", "judge", "parse"]

COLUMNS: tuple[str, ...] = ("cap", "every_cavity", "lapse")
READING = "first_off"

WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    "approval.passed": "The first-off was approved ({decided}).",
    "approval.refused": "The first-off was refused ({decided}).",
    "approval.waiting": "The first-off waits for approval.",
    "approval.over_cap": "{counted} pieces were made, but only {cap} may be made before the first-off is approved.",
    "approval.cavity_not_measured": "The first-off was approved ({decided}), but nothing was measured from "
    "cavity {cavity}.",
    "approval.cavities_unknown": "Nobody said which cavities are open.",
    "approval.reopened": "The first-off was approved ({decided}) for something else: {changes} changed since.",
    "approval.lapsed": "The first-off was approved ({decided}), but nothing was made for {idle} days; "
    "after {lapse} it is approved anew.",
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


def parse(raw: Mapping[str, str]) -> ApprovalParams | list[ParamError]:
    """Read the columns cap (pieces), every_cavity (yes or no), lapse (days); empty: not asked."""
    row = Row(raw)
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
    return (Question(READING, "ask.first_off", "", "tick", None, None, "step"),)


def boxes(params: ApprovalParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """Who approved, and when."""
    return (Box("First-off approved by", "", 12), Box("Date", "", 8))


def limit_words(params: ApprovalParams) -> list[LimitWord]:
    """First-off approved; what else is asked."""
    words: list[LimitWord] = [("limit.approval", {})]
    if params.cap is not None:
        words.append(("limit.cap", {"cap": params.cap}))
    if params.every_cavity:
        words.append(("limit.every_cavity_measured", {}))
    if params.lapse_days is not None:
        words.append(("limit.lapse", {"lapse": params.lapse_days}))
    return words


def changed(approved: MadeWith, now: MadeWith) -> list[str]:
    """What differs between what was approved and what is run: design, tool, cavities, material, place.

    Fewer cavities than were approved are no new thing to approve, but a mould run differently: they count.
    """
    pairs = ((one.name, getattr(approved, one.name), getattr(now, one.name)) for one in fields(MadeWith))
    return [name for name, before, after in pairs if before and after and before != after]


def _decisions(evidence: Evidence) -> list[ApprovalEvidence]:
    """All decisions, oldest first; a tick alone was given for what the step is run with."""
    ticked = [
        ApprovalEvidence(reading.taken_at, reading.number == 1, evidence.made_with)
        for reading in evidence.named(READING)
    ]
    return sorted([*evidence.approvals, *ticked], key=lambda decision: decision.decided_at.timestamp())


def _not_measured(evidence: Evidence, decided_at: datetime) -> int | None:
    """The first open cavity from which nothing was measured by the time of the decision."""
    measured = {
        reading.cavity
        for reading in evidence.readings
        if reading.number is not None and elapsed(reading.taken_at, decided_at).total_seconds() >= 0
    }
    return next((cavity for cavity in evidence.open_cavities if cavity not in measured), None)


def _idle_days(decision: ApprovalEvidence, evidence: Evidence) -> int:
    """Whole days between the approval, or the last run after it, and the start of this step."""
    if evidence.started_at is None:
        return 0
    moments = [decision.decided_at, *([decision.last_run_at] if decision.last_run_at else [])]
    idle = min(elapsed(moment, evidence.started_at) for moment in moments)
    return max(timedelta(), idle) // timedelta(days=1)


def _waiting(params: ApprovalParams, evidence: Evidence, code: str, figures: Mapping[str, Figure]) -> Judged:
    """Without an approval that stands: missing, or failed where more was made than may be."""
    counted = evidence.counts.counted
    if params.cap is not None and counted > params.cap:
        return Judged(Verdict("failed", "approval.over_cap", {**figures, "counted": counted, "cap": params.cap}))
    return Judged(Verdict("missing", code, figures))


def judge(params: ApprovalParams, evidence: Evidence) -> Judged:
    """The latest decision, if it was given for what is run now; without one the step waits."""
    decisions = _decisions(evidence)
    if not decisions:
        return _waiting(params, evidence, "approval.waiting", {})
    latest = decisions[-1]
    figures: dict[str, Figure] = {"decided": latest.decided_at.isoformat()}
    if not latest.approved:
        return Judged(Verdict("failed", "approval.refused", figures))
    if changes := changed(latest.made_with, evidence.made_with):
        return _waiting(params, evidence, "approval.reopened", {**figures, "changes": changes})
    if params.lapse_days is not None and (idle := _idle_days(latest, evidence)) > params.lapse_days:
        return _waiting(params, evidence, "approval.lapsed", {**figures, "idle": idle, "lapse": params.lapse_days})
    if params.every_cavity:
        if not evidence.open_cavities:
            return _waiting(params, evidence, "approval.cavities_unknown", figures)
        cavity = _not_measured(evidence, latest.decided_at)
        if cavity is not None:
            return _waiting(params, evidence, "approval.cavity_not_measured", {**figures, "cavity": cavity})
    return Judged(Verdict("passed", "approval.passed", figures))


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
