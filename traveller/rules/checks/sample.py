"""May the lot pass on a sample? Lot size, level and acceptance limit give the plan; or the plan is given.

The verdict says what the plan can and cannot see: the chance that it accepts a lot with 1, 2 or 5 % bad.
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
from traveller.rules.sampling import SamplingPlan, acceptance_limit, acceptance_probability, model_for, single_plan
from traveller.rules.sampling_tables import LEVELS

__all__ = ["KIND", "WORDS", "SampleParams", "chances", "judge", "plan_for"]

_ACCEPT = "a whole number, 0 or more"


@dataclass(frozen=True)
class _Limit(CellReader[str]):
    """An acceptance limit of the table, as the table writes it."""

    wanted: str = "percent bad as in the table: 0.65, 1.0, 1.5, 2.5, 4.0; or give sample and accept"

    def _read(self, row: CheckCells, column: str, unit: str) -> str | None:
        found = acceptance_limit(row.text(column))
        if found is None:
            row.wrong(column, self.wanted)
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

WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    "sample.passed": "{name}: {bad} bad in {looked_at} of {lot}; up to {accept} are accepted. A lot with 1 % bad would "
    "pass {chance_one} times in 100, with 2 % bad {chance_two}, with 5 % bad {chance_five} ({model}).",
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
    """The plan for a lot of so many pieces; a lot of one is looked at whole."""
    if params.size is not None and params.accept is not None:
        return SamplingPlan(min(params.size, lot), params.accept)
    return single_plan(lot, params.level, params.limit) if lot > 1 else SamplingPlan(1, 0)


def chances(plan: SamplingPlan, lot: int) -> dict[str, CheckFigure]:
    """How many times in 100 the plan accepts a lot with 1, 2 and 5 % bad, and by which model."""
    model = model_for(plan.size, lot)
    names = ("chance_one", "chance_two", "chance_five")
    found: dict[str, CheckFigure] = {"model": model}
    for name, share in zip(names, SHARES, strict=True):
        chance = acceptance_probability(plan, share / 100, model=model, lot=lot) * 100
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
    """Too many bad ones reject at once; enough pieces must have been looked at to accept."""
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
    if bad > plan.accept:
        return Judged(CheckVerdict("failed", "sample.rejected", figures))
    if looked < plan.size:
        return Judged(CheckVerdict("missing", "sample.too_few", figures))
    return Judged(CheckVerdict("passed", "sample.passed", {**figures, **chances(plan, lot)}))


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
