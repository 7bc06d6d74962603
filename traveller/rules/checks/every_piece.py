"""Was every piece tested? Tested = arrived - scrapped before the test; passed = tested - failed.

Pieces tested again after rework are told apart and never make up for pieces that were not tested.
Where the tester is tried on a known leak (the master) at the start and the end of a shift, a master that failed
makes all suspect that was tested since it last did well.
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
    elapsed,
    worst,
)
from traveller.rules.checks.columns import Row, plain

__all__ = ["COLUMNS", "KIND", "WORDS", "EveryPieceParams", "judge", "parse"]

COLUMNS = ("name", "master")
TESTED, MASTER = "tested", "master"
# "Start" is tapped when the step begins; the known leak is tried within these minutes, before the first pieces.
START_GRACE_S = 15 * 60

WORDS: Mapping[str, str] = {
    "every_piece.passed": "{name}: {tested} tested, {passed} passed, {failed} failed.",
    "every_piece.not_all_tested": "{name}: {said} tested, but {to_test} were there to be tested.",
    "every_piece.nothing_arrived": "{name}: nothing has arrived to be tested.",
    "every_piece.not_finished": "{name}: {open} of {to_test} still to be tested.",
    "every_piece.unaccounted": "{name}: {open} of {to_test} pieces are not accounted for.",
    "every_piece.more_than_arrived": "{name}: {counted} pieces are told of, but only {arrived} arrived.",
    "every_piece.before_exceeds_scrap": "{name}: {scrap_before} scrapped before the test, "
    "but only {scrap} scrapped in all.",
    "every_piece.master_failed": "{name}: the known leak was not found at {failed_at}; "
    "all that was tested since {since} is suspect.",
    "every_piece.master_failed_from_start": "{name}: the known leak was not found at {failed_at} "
    "and never before; all that was tested is suspect.",
    "every_piece.no_master": "{name}: the tester was not tried on the known leak.",
    "every_piece.no_master_at_start": "{name}: the tester was tried on the known leak only at {first}, "
    "after the first pieces ({started}).",
    "every_piece.no_master_at_end": "{name}: the tester was not tried on the known leak at the end; last at {last}.",
    "limit.every_piece": "every piece",
    "limit.master": "the known leak found at start and end of each shift",
    "ask.scrap_before": "How many were scrapped before the test?",
    "ask.retested": "How many were tested again after rework?",
    "ask.master": "Did the tester find the known leak?",
}


@dataclass(frozen=True)
class EveryPieceParams:
    """What the test is called, and whether its tester is tried on a known leak."""

    name: str = "test"
    master: bool = False


def parse(raw: Mapping[str, str]) -> EveryPieceParams | list[ParamError]:
    """Read the columns name ("test" when empty) and master (yes or no)."""
    row = Row(raw)
    master = row.yes("master")
    return row.errors or EveryPieceParams(row.text("name") or "test", master)


def dump(params: EveryPieceParams) -> dict[str, str]:
    """The columns again."""
    return {"name": params.name, "master": "yes" if params.master else "no"}


def questions(params: EveryPieceParams) -> tuple[Question, ...]:
    """What the step's own count does not tell."""
    asked = (
        Question("scrap_before", "ask.scrap_before", "", "number", "0", None, "step"),
        Question("retested", "ask.retested", "", "number", "0", None, "step"),
    )
    return (*asked, Question(MASTER, "ask.master", "", "tick", None, None, "step")) if params.master else asked


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


def _judge_master(params: EveryPieceParams, evidence: Evidence, figures: dict[str, Figure]) -> Verdict | None:
    """What the known leak says; None where it was found every time it had to be.

    Every try counts: one that failed is not healed by a later one, since nobody knows what leaked in between.
    """
    tries = evidence.named(MASTER)
    if not tries:
        return Verdict("missing", "every_piece.no_master", figures)
    for place, one in enumerate(tries):
        if one.number == 1:
            continue
        told = {**figures, "failed_at": one.taken_at.isoformat()}
        # A try that said nothing readable proves nothing, which is the same as a failed one for what went before.
        if place == 0:
            return Verdict("failed", "every_piece.master_failed_from_start", told)
        told["since"] = tries[place - 1].taken_at.isoformat()
        return Verdict("failed", "every_piece.master_failed", told)
    first, last = tries[0].taken_at, tries[-1].taken_at
    if evidence.started_at is not None and elapsed(evidence.started_at, first).total_seconds() > START_GRACE_S:
        told = {**figures, "first": first.isoformat(), "started": evidence.started_at.isoformat()}
        return Verdict("missing", "every_piece.no_master_at_start", told)
    if len(tries) < 2:
        return Verdict("missing", "every_piece.no_master_at_end", {**figures, "last": last.isoformat()})
    return None


def judge(params: EveryPieceParams, evidence: Evidence) -> Judged:
    """The counts must be right, and the tester must have found the known leak where that is asked."""
    counted = _judge_counts(params, evidence)
    master = _judge_master(params, evidence, dict(counted.figures)) if params.master else None
    return Judged(worst([counted, *([master] if master else [])]) or counted)


def _judge_counts(params: EveryPieceParams, evidence: Evidence) -> Verdict:
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
        return Verdict("missing", "every_piece.before_exceeds_scrap", figures)
    if counts.counted > counts.arrived:
        return Verdict("missing", "every_piece.more_than_arrived", figures)
    if said and evidence.said_done and said[-1].value != to_test:
        figures["said"] = plain(said[-1].value)
        return Verdict("failed", "every_piece.not_all_tested", figures)
    if counts.arrived == 0:
        return Verdict("missing", "every_piece.nothing_arrived", figures)
    if counts.counted < counts.arrived:
        code = "every_piece.unaccounted" if evidence.said_done else "every_piece.not_finished"
        return Verdict("missing", code, figures)
    return Verdict("passed", "every_piece.passed", figures)


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
