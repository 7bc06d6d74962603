"""Was every piece tested? Tested = arrived - scrapped before the test; passed = tested - failed.

Pieces tested again after rework are told apart and never make up for pieces that were not tested.
Where the tester is tried on a test master (a known leak) at the start and the end of a shift, a master that failed
makes all suspect that was tested since it last did well (see master.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from traveller.rules.checks.base import (
    Box,
    CheckFigure,
    CheckVerdict,
    Evidence,
    Judged,
    LimitWord,
    Question,
    worst,
)
from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.fields import Field, Phrase, Ticked
from traveller.rules.checks.kind import CheckKind, Terms
from traveller.rules.checks.master import MASTER, judge_master
from traveller.rules.checks.master import WORDS as MASTER_WORDS

__all__ = ["KIND", "WORDS", "EveryPieceParams", "judge"]

READS = (
    Field("name", Phrase(), "What the test is called.", "test"),
    Field("master", Ticked(), "Whether the tester is tried on a test master in every shift.", default="no"),
)
TESTED = "tested"

WORDS: Mapping[str, str] = {
    **MASTER_WORDS,
    "every_piece.passed": "{name}: {tested} tested, {passed} passed, {failed} failed.",
    "every_piece.not_all_tested": "{name}: {said} tested, but {to_test} were there to be tested.",
    "every_piece.nothing_arrived": "{name}: nothing has arrived to be tested.",
    "every_piece.not_finished": "{name}: {open} of {to_test} still to be tested.",
    "every_piece.unaccounted": "{name}: {open} of {to_test} pieces are not accounted for.",
    "every_piece.more_than_arrived": "{name}: {counted} pieces are told of, but only {arrived} arrived.",
    "every_piece.before_exceeds_scrap": "{name}: {scrap_before} scrapped before the test, "
    "but only {scrap} scrapped in all.",
    "limit.every_piece": "every piece",
    "limit.master": "the known leak found at start and end of each shift",
    "ask.scrap_before": "How many were scrapped before the test?",
    "ask.retested": "How many were tested again after rework?",
    "ask.master": "Did the tester find the known leak?",
}


@dataclass(frozen=True)
class EveryPieceParams:
    """What the test is called, and whether its tester is tried on a test master."""

    name: str = "test"
    master: bool = False


def build(row: CheckCells, found: Mapping[str, Any]) -> EveryPieceParams | None:
    """What the test is called, and whether its tester is tried."""
    return None if row.errors else EveryPieceParams(found["name"], found["master"])


def questions(params: EveryPieceParams) -> tuple[Question, ...]:
    """What the step's own count does not tell."""
    asked = (
        Question("scrap_before", "ask.scrap_before", "", "number", "0", None, "step", told="count"),
        Question("retested", "ask.retested", "", "number", "0", None, "step", told="count"),
    )
    return (
        (*asked, Question(MASTER, "ask.master", "", "tick", None, None, "step", told="tester"))
        if params.master
        else asked
    )


def boxes(params: EveryPieceParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """The figures of the test, in the order in which they are subtracted."""
    figures = (
        Box("Scrapped before", "", 6),
        Box("Tested", "", 6),
        Box("Passed", "", 6),
        Box("Failed", "", 6),
        Box("Tested again", "", 6),
    )
    master = (Box("Known leak found: start", "time", 8), Box("Known leak found: end", "time", 8))
    return (*figures, *master) if params.master else figures


def limit_words(params: EveryPieceParams) -> list[LimitWord]:
    """Every piece, and the master where it is asked."""
    words: list[LimitWord] = [("limit.every_piece", {})]
    return [*words, ("limit.master", {})] if params.master else words


def judge(params: EveryPieceParams, evidence: Evidence) -> Judged:
    """The counts must be right, and the tester must have found the test master where that is asked."""
    counted = _judge_counts(params, evidence)
    master = judge_master(evidence, dict(counted.figures)) if params.master else None
    return Judged(worst([counted, *([master] if master else [])]) or counted)


def _judge_counts(params: EveryPieceParams, evidence: Evidence) -> CheckVerdict:
    """The counts must leave no piece untested; a stated number tested must agree with them.

    Failed are those scrapped at the test or sent to rework; samples taken at the test are tested pieces.
    """
    counts = evidence.counts
    to_test = counts.arrived - counts.scrap_before
    failed = counts.scrap - counts.scrap_before + counts.rework
    passed = counts.good + counts.samples
    figures: dict[str, CheckFigure] = {
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
        return CheckVerdict("missing", "every_piece.before_exceeds_scrap", figures)
    if counts.counted > counts.arrived:
        return CheckVerdict("missing", "every_piece.more_than_arrived", figures)
    if said and evidence.said_done and said[-1].value != to_test:
        figures["said"] = plain(said[-1].value)
        return CheckVerdict("failed", "every_piece.not_all_tested", figures)
    if counts.arrived == 0:
        return CheckVerdict("missing", "every_piece.nothing_arrived", figures)
    if counts.counted < counts.arrived:
        code = "every_piece.unaccounted" if evidence.said_done else "every_piece.not_finished"
        return CheckVerdict("missing", code, figures)
    return CheckVerdict("passed", "every_piece.passed", figures)


KIND: CheckKind[EveryPieceParams] = CheckKind(
    name="every_piece",
    order=60,
    title="Every piece tested",
    about="Every piece that arrived was tested, by the step's count; where asked the tester itself was tried.",
    fields=READS,
    example={"name": "water test", "master": "yes"},
    scopes=("piece", "lot", "step"),
    needs={"counts": "piece", "untested": "piece", "readings": "step", "tries": "shift"},
    build=build,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
    terms=lambda params: Terms(test=params.name if params.master else ""),
)
