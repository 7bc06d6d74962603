"""Is it the right variant and artwork? What was tapped or scanned against the plan's word."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from traveller.rules.checks.base import (
    LOAD_WORDS,
    Box,
    CheckVerdict,
    Evidence,
    Judged,
    LimitWord,
    Question,
)
from traveller.rules.checks.columns import CheckCells, plain, same_word
from traveller.rules.checks.fields import Field, Phrase
from traveller.rules.checks.kind import CheckKind

__all__ = ["KIND", "READING", "WORDS", "VariantParams", "judge"]

READS = (
    Field("name", Phrase("the plan's word, e.g. amber"), "The plan's word for the variant or artwork.", needed=True),
)
READING = "variant"

WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    "variant.passed": "{wanted} confirmed.",
    "variant.wrong": "{found} was confirmed, but the plan says {wanted}.",
    "variant.waiting": "{wanted} has not been confirmed.",
    "limit.variant": "{wanted}",
    "ask.variant": "Which variant or artwork is it?",
}


@dataclass(frozen=True)
class VariantParams:
    """The plan's word, e.g. amber, or artwork and revision."""

    name: str


def build(row: CheckCells, found: Mapping[str, Any]) -> VariantParams | None:
    """The plan's word, which cannot be empty."""
    return None if row.errors else VariantParams(found["name"])


def questions(params: VariantParams) -> tuple[Question, ...]:
    """One word, scanned or typed."""
    return (Question(READING, "ask.variant", "", "text", None, None, "step", expected=params.name),)


def boxes(params: VariantParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """What was found, not a tick."""
    return (Box("Variant or artwork seen", "", 14),)


def limit_words(params: VariantParams) -> list[LimitWord]:
    """The plan's word."""
    return [("limit.variant", {"wanted": params.name})]


def judge(params: VariantParams, evidence: Evidence) -> Judged:
    """Every confirmation must fit: a wrong plate found and changed has printed pieces in between."""
    said = evidence.named(READING)
    for reading in said:
        # An artwork may be called 12: a word that happens to be a number.
        found = reading.text or plain(reading.value)
        if not same_word(found, params.name):
            figures = {"wanted": params.name, "found": found}
            return Judged(CheckVerdict("failed", "variant.wrong", figures))
    if not said:
        return Judged(CheckVerdict("missing", "variant.waiting", {"wanted": params.name}))
    return Judged(CheckVerdict("passed", "variant.passed", {"wanted": params.name}))


KIND: CheckKind[VariantParams] = CheckKind(
    name="variant",
    order=120,
    title="Variant or artwork",
    about="What was seen or scanned at the step is the variant or artwork that the plan names.",
    fields=READS,
    example={"name": "amber"},
    scopes=("step", "lot", "load"),
    needs={"readings": "step"},
    build=build,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
)
