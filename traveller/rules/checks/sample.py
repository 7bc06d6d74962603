"""May the lot pass on a sample? Lot size, level and acceptance limit give the plan; or the plan is given.

The verdict says what the plan can and cannot see: the chance that it accepts a lot with 1, 2 or 5 % bad, or with 1 or
2 bad pieces where one piece is more than 1 %. Where every piece was looked at nothing is left to chance: each bad one
is rejected, and the others may go on once it is scrapped, sent to rework or kept back (MIL-STD-105E has the bad pieces
that an inspection finds taken out of accepted lots as well: from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from traveller.rules.checks.base import (
    LOAD_WORDS,
    Box,
    CheckFigure,
    CheckVerdict,
    CountEvidence,
    Evidence,
    Judged,
    LimitWord,
    Question,
)
from traveller.rules.checks.columns import CheckCells
from traveller.rules.checks.degrees import degrees_shown
from traveller.rules.checks.fields import CellReader, Field, OneOf, Phrase, Whole
from traveller.rules.checks.kind import CheckKind, Limited
from traveller.rules.checks.limits import Limits
from traveller.rules.sampling import (
    Model,
    SamplingPlan,
    acceptance_limit,
    acceptance_probability,
    model_for,
    single_plan,
)
from traveller.rules.sampling_tables import LEVELS

__all__ = ["KIND", "WORDS", "SampleParams", "chances", "judge", "plan_for"]

# MIL-STD-105E: percent bad up to 10; the columns above are for defects per hundred units only.
PERCENT_MOST = 10
_ACCEPT = "a whole number, 0 or more"
_DEFECTS = "is no share of bad pieces: above 10 the table counts defects per hundred units, several to a piece"


@dataclass(frozen=True)
class _Limit(CellReader[str]):
    """An acceptance limit of the table, as the table writes it; above 10 the table speaks of defects, not of pieces."""

    wanted: str = "percent bad as in the table: 0.65, 1.0, 1.5, 2.5, 4.0; or give sample and accept"

    def _read(self, row: CheckCells, column: str, unit: str) -> str | None:
        found = acceptance_limit(row.text(column))
        if found is None:
            row.wrong(column, self.wanted)
        elif Decimal(found) > PERCENT_MOST:
            row.wrong(column, "10 or less", _DEFECTS)
            return None
        return found


READS = (
    Field("name", Phrase(), "What is looked for.", "sample"),
    Field("level", OneOf(words=LEVELS), "Inspection level of the table; II where it is empty."),
    Field("limit", _Limit(), "Acceptance limit of the table.", unit="% bad"),
    Field("sample", Whole(), "How many pieces are looked at, instead of level and limit.", keeps="size"),
    Field("accept", Whole(_ACCEPT, least=0), "How many of them may be bad."),
)
LOOKED_AT, BAD = "looked_at", "bad"
SHARES = (1, 2, 5)
# From so many pieces on, 1 % is a piece at least.
WHOLE_PERCENT = 100

WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    "sample.passed": "{name}: {bad} bad in {looked_at} of {lot}; up to {accept} are accepted. A lot with 1 % bad would "
    "pass {chance_one} times in 100, with 2 % bad {chance_two}, with 5 % bad {chance_five} ({model}).",
    "sample.passed_few": "{name}: {bad} bad in {looked_at} of {lot}; up to {accept} are accepted. With 1 bad piece "
    "among the {lot} it would pass {chance_one} times in 100, with 2 bad pieces {chance_two} (hypergeometric).",
    "sample.passed_every": "{name}: none bad in {looked_at} looked at, of {lot} pieces.",
    "sample.sorted": "{name}: {bad} bad in {looked_at} looked at, of {lot} pieces. The bad ones are taken out.",
    "sample.bad_left": "{name}: {bad} bad in {looked_at} looked at, of {lot} pieces; not taken out yet: {left}. Record "
    "the bad ones as scrap or rework: the others may go on then.",
    "sample.rejected": "{name}: {bad} bad in {looked_at} of {lot}; {reject} reject the lot.",
    "sample.too_few": "{name}: {looked_at} of {size} pieces looked at.",
    "sample.not_looked": "{name}: no sample was looked at; {size} of {lot} are wanted.",
    "sample.no_lot": "{name}: the lot's size is not known yet.",
    "sample.more_bad_than_seen": "{name}: {bad} bad among {looked_at} cannot be.",
    "limit.sample": "a sample by lot size, level {level}, limit {limit} %",
    "limit.sample_plan": "{size} pieces, at most {accept} bad",
    "ask.looked_at": "How many did you look at?",
    "ask.bad": "How many of them were bad?",
}


@dataclass(frozen=True)
class SampleParams:
    """By level and acceptance limit from the table, or size and acceptance number as agreed."""

    name: str
    level: str = ""
    limit: str = ""
    size: int | None = None
    accept: int | None = None


def build(row: CheckCells, found: Mapping[str, Any]) -> SampleParams | None:
    """By level (II when empty) and limit, or by sample and accept."""
    if row.text("sample") or row.text("accept"):
        return _agreed(row, found)
    if found["limit"] is None and not row.is_wrong("limit"):
        row.wrong("limit", _Limit.wanted)
    return None if row.errors else SampleParams(found["name"], found["level"] or "II", found["limit"])


def _agreed(row: CheckCells, found: Mapping[str, Any]) -> SampleParams | None:
    """A plan that was agreed on takes the place of the table: pieces to look at, and how many of them may be bad."""
    if not row.text("sample"):
        row.wrong("sample", "how many pieces to look at")
    if row.text("limit") or row.text("level"):
        row.wrong("limit", "nothing, since sample and accept give the plan")
    size, accept = found["sample"], found["accept"]
    if not row.errors and accept is None:
        row.wrong("accept", _ACCEPT)
    if not row.errors and accept >= size:
        row.wrong("accept", "less than the sample")
    return None if row.errors else SampleParams(found["name"], size=size, accept=accept)


def plan_for(params: SampleParams, lot: int) -> SamplingPlan:
    """The plan for a lot of so many pieces, which never asks for more of them than there are; a lot of one is looked
    at whole. What it accepts is for a sample: where every piece is looked at, `judge` lets no bad one through."""
    if params.size is not None and params.accept is not None:
        return SamplingPlan(min(params.size, lot), params.accept)
    return single_plan(lot, params.level, params.limit) if lot > 1 else SamplingPlan(1, 0)


def chances(plan: SamplingPlan, lot: int) -> dict[str, CheckFigure]:
    """How many times in 100 the plan accepts a lot with 1, 2 and 5 % bad, and by which model.

    Of a lot under 100, where one piece is more than 1 %: a lot with 1 and 2 bad pieces (hypergeometric).
    """
    names = ("chance_one", "chance_two", "chance_five")
    if lot < WHOLE_PERCENT:
        shares = [min(pieces, lot) / lot for pieces in (1, 2)]
        model: Model = "hypergeometric"
    else:
        shares = [share / 100 for share in SHARES]
        model = model_for(plan.size, lot)
    found: dict[str, CheckFigure] = {"model": model}
    for name, share in zip(names, shares, strict=False):
        chance = acceptance_probability(plan, share, model=model, lot=lot) * 100
        # Nearly always is not always: 99.97 times in 100 is not rounded to 100.
        found[name] = degrees_shown(chance, 1 if 0.1 <= chance <= 99.9 else 2, up=chance < 0.1)
    return found


def questions(params: SampleParams) -> tuple[Question, ...]:
    """How many were looked at, how many were bad."""
    return (
        Question(LOOKED_AT, "ask.looked_at", "", "number", "0", None, "step"),
        Question(BAD, "ask.bad", "", "number", "0", None, "step"),
    )


def boxes(params: SampleParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """The two counts."""
    return (Box("Looked at", "", 6), Box("Bad", "", 6))


def limit_words(params: SampleParams) -> list[LimitWord]:
    """The plan as far as it is known before the lot is."""
    if params.size is not None and params.accept is not None:
        return [("limit.sample_plan", {"size": params.size, "accept": params.accept})]
    return [("limit.sample", {"level": params.level, "limit": params.limit})]


def _sum(evidence: Evidence, name: str) -> int:
    """What several looks at one lot add up to; a part of a piece is none."""
    return sum(int(reading.number) for reading in evidence.named(name) if reading.number is not None)


def judge(params: SampleParams, evidence: Evidence) -> Judged:
    """Too many bad ones reject at once; enough pieces must have been looked at to accept.

    Where all were looked at, whatever the plan wanted, the lot passes when no bad one is left in it.
    """
    looked, bad = _sum(evidence, LOOKED_AT), _sum(evidence, BAD)
    lot = evidence.counts.arrived or evidence.counts.counted
    figures: dict[str, CheckFigure] = {"name": params.name, "looked_at": looked, "bad": bad, "lot": lot}
    if lot < 1:
        return Judged(CheckVerdict("missing", "sample.no_lot", figures))
    plan = plan_for(params, lot)
    figures |= {"size": plan.size, "accept": plan.accept, "reject": plan.reject, "letter": plan.used_letter}
    if looked < 1:
        return Judged(CheckVerdict("missing", "sample.not_looked", figures))
    if bad > looked or bad < 0:
        return Judged(CheckVerdict("missing", "sample.more_bad_than_seen", figures))
    if _every_piece(looked, bad, lot, evidence.counts):
        return Judged(_sorted(figures, bad, min(looked, lot), evidence))
    if bad > plan.accept:
        return Judged(CheckVerdict("failed", "sample.rejected", figures))
    if looked < plan.size:
        return Judged(CheckVerdict("missing", "sample.too_few", figures))
    code = "sample.passed_few" if lot < WHOLE_PERCENT else "sample.passed"
    return Judged(CheckVerdict("passed", code, {**figures, **chances(plan, lot)}))


def _every_piece(looked: int, bad: int, lot: int, counts: CountEvidence) -> bool:
    """All pieces of the lot were looked at, or all that were not scrapped without a look: what was looked at and is
    scrapped was bad."""
    return looked >= lot or (counts.scrap >= bad and looked - bad >= lot - counts.scrap)


def _sorted(figures: dict[str, CheckFigure], bad: int, pieces: int, evidence: Evidence) -> CheckVerdict:
    """Each bad one of so many pieces has to be taken out.

    Missing while that can still be told; failed where nothing good is left, or the step is said to be done with bad
    pieces among the good ones.
    """
    if not bad:
        return CheckVerdict("passed", "sample.passed_every", figures)
    counts = evidence.counts
    left = bad - counts.scrap - counts.rework - counts.samples
    if left <= 0:
        return CheckVerdict("passed", "sample.sorted", figures)
    figures["left"] = left
    done = evidence.said_done or bad >= pieces
    return CheckVerdict("failed" if done else "missing", "sample.bad_left", figures)


def limits(params: SampleParams) -> tuple[Limited, ...]:
    """The pieces that may be bad, or the percentage that the table's plan is for."""
    if params.accept is not None:
        return (Limited(BAD, Limits(None, Decimal(params.accept), "pieces"), (BAD,)),)
    return (Limited(BAD, Limits(None, Decimal(params.limit), "%")),)


KIND: CheckKind[SampleParams] = CheckKind(
    name="sample",
    order=90,
    title="Sample",
    about="The lot may pass on a sample: few enough of the pieces that were looked at are bad.",
    fields=READS,
    example={"name": "looks", "level": "II", "limit": "0.65"},
    scopes=("lot", "step"),
    needs={"readings": "lot", "counts": "lot"},
    build=build,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
    limits=limits,
)
