"""Has the founder approved the first-off? The latest decision counts.

Whether the person who ticked may decide it is a question of access, settled before it becomes evidence.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from traveller.rules.checks.base import (
    LOAD_WORDS,
    Box,
    CheckKind,
    Evidence,
    Judged,
    LimitWord,
    ParamError,
    Question,
    Verdict,
)

__all__ = ["COLUMNS", "KIND", "READING", "WORDS", "ApprovalParams", "judge", "parse"]

COLUMNS: tuple[str, ...] = ()
READING = "first_off"

WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    "approval.passed": "The first-off was approved ({decided}).",
    "approval.refused": "The first-off was refused ({decided}).",
    "approval.waiting": "The first-off waits for approval.",
    "limit.approval": "first-off approved",
    "ask.first_off": "Is the first-off approved?",
}


@dataclass(frozen=True)
class ApprovalParams:
    """Nothing to set yet."""


def parse(raw: Mapping[str, str]) -> ApprovalParams | list[ParamError]:
    """No columns to read."""
    return ApprovalParams()


def dump(params: ApprovalParams) -> dict[str, str]:
    """No columns to write."""
    return {}


def questions(params: ApprovalParams) -> tuple[Question, ...]:
    """One tick, for the founder."""
    return (Question(READING, "ask.first_off", "", "tick", None, None, "step"),)


def boxes(params: ApprovalParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """Who approved, and when."""
    return (Box("First-off approved by", "", 12), Box("Date", "", 8))


def limit_words(params: ApprovalParams) -> list[LimitWord]:
    """First-off approved."""
    return [("limit.approval", {})]


def judge(params: ApprovalParams, evidence: Evidence) -> Judged:
    """1 approves, anything else refuses; without a decision the step waits."""
    decisions = evidence.named(READING)
    if not decisions:
        return Judged(Verdict("missing", "approval.waiting"))
    figures = {"decided": decisions[-1].taken_at.isoformat()}
    if decisions[-1].value == 1:
        return Judged(Verdict("passed", "approval.passed", figures))
    return Judged(Verdict("failed", "approval.refused", figures))


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
