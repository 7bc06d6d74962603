"""Is a named reading inside its limits? Hardness, weight, temperature, pressure, dew point.

A row may say what its gauge or oven can show at all (plausible). What lies outside is asked about before it
becomes news: 350 typed for an oven that reaches 260 C is most likely Fahrenheit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any, Literal

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
from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.fields import Amount, Field, Phrase, Unit, Whole
from traveller.rules.checks.kind import CheckKind, Limited
from traveller.rules.checks.limits import LIMIT_WORDS, Limits, in_unit, read_limits
from traveller.rules.checks.plausible import PLAUSIBLE_WORDS, FromTo
from traveller.rules.checks.quantities import MEASURED_UNIT_MOST
from traveller.rules.checks.readings import judge_values
from traveller.rules.checks.recipes import RECIPE_WORDS, SURFACES, recipe_field, recipe_words

__all__ = ["KIND", "WORDS", "ReadingParams", "judge"]


WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    **LIMIT_WORDS,
    **PLAUSIBLE_WORDS,
    **RECIPE_WORDS,
    "reading.passed": "{name}: {found} read, from {lowest} to {highest}.",
    "reading.below": "{name}: {value} {value_unit}, at least {least} {unit} needed.",
    "reading.above": "{name}: {value} {value_unit}, at most {most} {unit} allowed.",
    "reading.unit": "{name}: {value_unit} was read where {unit} is asked for.",
    "reading.not_a_number": "{name}: {value} is not a number.",
    "reading.too_few": "{name}: {found} of {wanted} readings taken.",
    "ask.reading": "{name}?",
}


READS = (
    recipe_field(SURFACES),
    Field("name", Phrase("what is read, e.g. hardness"), "What is read.", needed=True),
    Field("least", Amount(), "The least it may be.", unit="as in unit", within="limits"),
    Field("most", Amount(), "The most it may be.", unit="as in unit", within="limits"),
    Field(
        "unit",
        Unit("the unit of the reading, e.g. Shore A, g, C, F"),
        "In which unit it is read.",
        needed=True,
        within="limits",
        longest=MEASURED_UNIT_MOST,
    ),
    Field("inspected", Whole(), "How many times it is read; pieces that are read stay in the batch.", "1"),
    Field("plausible", FromTo(), "From and to what its gauge can show at all.", unit="as in unit"),
)


@dataclass(frozen=True)
class ReadingParams:
    """What is read, between which limits, how many times; what the gauge or the oven can show at all."""

    name: str
    limits: Limits
    inspected: int = 1
    plausible: tuple[Decimal, Decimal] | None = None
    recipe: str = ""


def build(row: CheckCells, found: Mapping[str, Any]) -> ReadingParams | None:
    """What is read, between which limits; what can be shown is in the same unit."""
    limits = read_limits(row, found)
    if limits is None or row.errors:
        return None
    return ReadingParams(found["name"], limits, found["inspected"], found["plausible"], found["recipe"] or "")


def questions(params: ReadingParams) -> tuple[Question, ...]:
    """The reading, as many times as it is wanted."""
    limits, many = params.limits, params.inspected
    each: Literal["step", "piece"] = "step" if many == 1 else "piece"
    low, high, can = limits.low(), limits.high(), params.plausible
    return (Question(params.name, "ask.reading", limits.unit, "number", low, high, each, many, plausible=can),)


def boxes(params: ReadingParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """A box for each reading."""
    unit = params.limits.unit
    if params.inspected == 1:
        return (Box(params.name, unit, 7),)
    return tuple(Box(f"{params.name} {number}", unit, 7) for number in range(1, params.inspected + 1))


def limit_words(params: ReadingParams) -> list[LimitWord]:
    """The limit in short."""
    return [*params.limits.words(), *recipe_words(SURFACES, params.recipe)]


def judge(params: ReadingParams, evidence: Evidence) -> Judged:
    """Every reading of that name inside, and enough of them; a struck reading is not evidence."""
    readings = evidence.named(params.name)
    wrong = judge_values("reading", params.limits, readings)
    figures: dict[str, CheckFigure] = {
        "name": params.name,
        **params.limits.figures(),
        "found": len(readings),
        "wanted": params.inspected,
    }
    if wrong is not None:
        return Judged(CheckVerdict(wrong.outcome, wrong.code, {**figures, **wrong.figures}))
    if len(readings) < params.inspected:
        return Judged(CheckVerdict("missing", "reading.too_few", figures))
    unit = params.limits.unit
    ordered = sorted(readings, key=lambda reading: in_unit(reading.value, reading.unit, unit) or Fraction(0))
    lowest, highest = ordered[0], ordered[-1]
    figures["lowest"] = f"{plain(lowest.value)} {lowest.unit or unit}"
    figures["highest"] = f"{plain(highest.value)} {highest.unit or unit}"
    return Judged(CheckVerdict("passed", "reading.passed", figures))


def charted(params: ReadingParams) -> Limited:
    """What is read."""
    return Limited(params.name, params.limits, (params.name,))


KIND: CheckKind[ReadingParams] = CheckKind(
    name="reading",
    order=80,
    title="Reading",
    about="A named reading, in whatever unit, lies within its limits.",
    fields=READS,
    example={"name": "hardness", "least": "55", "most": "65", "unit": "Shore A", "inspected": "3"},
    scopes=("step", "load", "lot", "piece"),
    needs={"readings": "piece"},
    build=build,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
    limits=lambda params: (charted(params),),
    charted=charted,
    recipes=SURFACES,
)
