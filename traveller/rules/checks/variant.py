"""Is it the right variant and artwork? What was tapped or scanned against the plan's word."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from traveller.rules.checks.base import (
    LOAD_WORDS,
    Box,
    CheckKind,
    CheckVerdict,
    Evidence,
    Judged,
    LimitWord,
    ParamError,
    Question,
)
from traveller.rules.checks.columns import CheckCells, plain

__all__ = ["COLUMNS", "KIND", "READING", "WORDS", "VariantParams", "judge", "parse", "same_word"]

COLUMNS = ("name",)
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


def parse(raw: Mapping[str, str]) -> VariantParams | list[ParamError]:
    """Read the column name, which cannot be empty."""
    row = CheckCells(raw)
    name = row.text("name")
    if not name:
        row.wrong("name", "the plan's word, e.g. amber")
        return row.errors
    return VariantParams(name)


def dump(params: VariantParams) -> dict[str, str]:
    """The column again."""
    return {"name": params.name}


def questions(params: VariantParams) -> tuple[Question, ...]:
    """One word, scanned or typed."""
    return (Question(READING, "ask.variant", "", "text", None, None, "step"),)


def boxes(params: VariantParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """What was found, not a tick."""
    return (Box("Variant or artwork seen", "", 14),)


def limit_words(params: VariantParams) -> list[LimitWord]:
    """The plan's word."""
    return [("limit.variant", {"wanted": params.name})]


def same_word(one: str, other: str) -> bool:
    """Equal in any case, spacing and way of composing accents."""

    def bare(word: str) -> str:
        return " ".join(unicodedata.normalize("NFKC", word).casefold().split())

    return bare(one) == bare(other)


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
