"""May the lot pass on a sample? Lot size, level and acceptance limit give the plan; or the plan is given.

The verdict says what the plan can and cannot see: the chance that it accepts a lot with 1, 2 or 5 % bad.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from traveller.rules.checks.base import (
    LOAD_WORDS,
    Box,
    CheckFigure,
    CheckKind,
    CheckVerdict,
    Evidence,
    Judged,
    LimitWord,
    ParamError,
    Question,
)
from traveller.rules.checks.columns import CheckCells
from traveller.rules.checks.degrees import degrees_shown
from traveller.rules.sampling import SamplingPlan, acceptance_limit, acceptance_probability, model_for, single_plan
from traveller.rules.sampling_tables import LEVELS

__all__ = ["COLUMNS", "KIND", "WORDS", "SampleParams", "chances", "judge", "parse", "plan_for"]

COLUMNS = ("name", "level", "limit", "sample", "accept")
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


def parse(raw: Mapping[str, str]) -> SampleParams | list[ParamError]:
    """Read name, level (II when empty) and limit (percent bad), or sample and accept."""
    row = CheckCells(raw)
    name = row.text("name") or "sample"
    if row.text("sample") or row.text("accept"):
        return _agreed(row, name)
    level = row.unit("level", LEVELS, "II")
    limit = acceptance_limit(row.text("limit"))
    if limit is None:
        row.wrong("limit", "percent bad as in the table: 0.65, 1.0, 1.5, 2.5, 4.0; or give sample and accept")
    return row.errors or SampleParams(name, level, limit or "")


def _agreed(row: CheckCells, name: str) -> SampleParams | list[ParamError]:
    """A plan that was agreed on takes the place of the table: pieces to look at, and how many of them may be bad."""
    size = row.whole("sample", 1)
    accept = row.number("accept", "a whole number, 0 or more", least=Decimal(0))
    if not row.text("sample"):
        row.wrong("sample", "how many pieces to look at")
    if row.text("limit") or row.text("level"):
        row.wrong("limit", "nothing, since sample and accept give the plan")
    if not row.errors and (accept is None or accept != int(accept)):
        row.wrong("accept", "a whole number, 0 or more")
    if not row.errors and accept is not None and accept >= size:
        row.wrong("accept", "less than the sample")
    return row.errors or SampleParams(name, size=size, accept=int(accept or 0))


def dump(params: SampleParams) -> dict[str, str]:
    """The columns again."""
    return {
        "name": params.name,
        "level": params.level,
        "limit": params.limit,
        "sample": "" if params.size is None else str(params.size),
        "accept": "" if params.accept is None else str(params.accept),
    }


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


KIND: CheckKind[SampleParams] = CheckKind(
    name="sample",
    columns=COLUMNS,
    scopes=("lot", "step"),
    parse=parse,
    dump=dump,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
)
