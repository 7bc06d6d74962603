"""Was every piece tested? Tested = arrived - scrapped before the test; passed = tested - failed.

Pieces tested again after rework are told apart and never make up for pieces that were not tested.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from traveller.rules.checks.base import (
    Box,
    CheckKind,
    Evidence,
    Figure,
    Judged,
    LimitWord,
    ParamError,
    Question,
    Verdict,
)
from traveller.rules.checks.columns import Row, plain

__all__ = ["COLUMNS", "KIND", "WORDS", "EveryPieceParams", "judge", "parse"]

COLUMNS = ("name",)
TESTED = "tested"

WORDS: Mapping[str, str] = {
    "every_piece.passed": "{name}: {tested} tested, {passed} passed, {failed} failed.",
    "every_piece.not_all_tested": "{name}: {said} tested, but {to_test} were there to be tested.",
    "every_piece.nothing_arrived": "{name}: nothing has arrived to be tested.",
    "every_piece.not_finished": "{name}: {open} of {to_test} still to be tested.",
    "every_piece.unaccounted": "{name}: {open} of {to_test} pieces are not accounted for.",
    "every_piece.more_than_arrived": "{name}: {counted} pieces are told of, but only {arrived} arrived.",
    "every_piece.before_exceeds_scrap": "{name}: {scrap_before} scrapped before the test, "
    "but only {scrap} scrapped in all.",
    "limit.every_piece": "every piece",
    "ask.scrap_before": "How many were scrapped before the test?",
    "ask.retested": "How many were tested again after rework?",
}


@dataclass(frozen=True)
class EveryPieceParams:
    """What the test is called."""

    name: str = "test"


def parse(raw: Mapping[str, str]) -> EveryPieceParams | list[ParamError]:
    """Read the column name ("test" when empty)."""
    return EveryPieceParams(Row(raw).text("name") or "test")


def dump(params: EveryPieceParams) -> dict[str, str]:
    """The column again."""
    return {"name": params.name}


def questions(params: EveryPieceParams) -> tuple[Question, ...]:
    """What the step's own count does not tell."""
    return (
        Question("scrap_before", "ask.scrap_before", "", "number", "0", None, "step"),
        Question("retested", "ask.retested", "", "number", "0", None, "step"),
    )


def boxes(params: EveryPieceParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """The figures of the test, in the order in which they are subtracted."""
    return (
        Box("Scrapped before", "", 6),
        Box("Tested", "", 6),
        Box("Passed", "", 6),
        Box("Failed", "", 6),
        Box("Tested again", "", 6),
    )


def limit_words(params: EveryPieceParams) -> list[LimitWord]:
    """Every piece."""
    return [("limit.every_piece", {})]


def judge(params: EveryPieceParams, evidence: Evidence) -> Judged:
    """The counts must leave no piece untested; a stated number tested must agree with them.

    Failed are those scrapped at the test or sent to rework; samples taken at the test are tested pieces.
    """
    counts = evidence.counts
    to_test = counts.arrived - counts.scrap_before
    failed = counts.scrap - counts.scrap_before + counts.rework
    passed = counts.good + counts.samples
    figures: dict[str, Figure] = {
        "name": params.name,
        "arrived": counts.arrived,
        "scrap": counts.scrap,
        "scrap_before": counts.scrap_before,
        "to_test": to_test,
        "tested": passed + failed,
        "passed": passed,
        "failed": failed,
        "retested": counts.retested,
        "by_reason": dict(counts.by_reason),
        "counted": counts.counted,
        "open": counts.arrived - counts.counted,
    }
    said = [reading for reading in evidence.named(TESTED) if reading.number is not None]
    if counts.scrap_before > counts.scrap:
        return Judged(Verdict("missing", "every_piece.before_exceeds_scrap", figures))
    if counts.counted > counts.arrived:
        return Judged(Verdict("missing", "every_piece.more_than_arrived", figures))
    if said and evidence.said_done and said[-1].value != to_test:
        figures["said"] = plain(said[-1].value)
        return Judged(Verdict("failed", "every_piece.not_all_tested", figures))
    if counts.arrived == 0:
        return Judged(Verdict("missing", "every_piece.nothing_arrived", figures))
    if counts.counted < counts.arrived:
        code = "every_piece.unaccounted" if evidence.said_done else "every_piece.not_finished"
        return Judged(Verdict("missing", code, figures))
    return Judged(Verdict("passed", "every_piece.passed", figures))


KIND: CheckKind[EveryPieceParams] = CheckKind(
    name="every_piece",
    columns=COLUMNS,
    scopes=("piece", "lot", "step"),
    parse=parse,
    dump=dump,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
)
