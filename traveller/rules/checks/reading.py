"""Is a named reading inside its limits? Hardness, weight, temperature, pressure, dew point.

A row may say what its gauge or oven can show at all (plausible). What lies outside is asked about before it
becomes news: 350 typed for an oven that reaches 260 C is most likely Fahrenheit.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

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
from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.limits import LIMIT_WORDS, Limits, in_unit, read_limits
from traveller.rules.checks.readings import judge_values

__all__ = ["COLUMNS", "KIND", "WORDS", "ReadingParams", "hint", "judge", "parse"]

COLUMNS = ("name", "least", "most", "unit", "pieces", "plausible")
_DEGREES = {"c": "C", "°c": "C", "f": "F", "°f": "F"}

WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    **LIMIT_WORDS,
    "reading.passed": "{name}: {found} read, from {lowest} to {highest}.",
    "reading.below": "{name}: {value} {value_unit}, at least {least} {unit} needed.",
    "reading.above": "{name}: {value} {value_unit}, at most {most} {unit} allowed.",
    "reading.unit": "{name}: {value_unit} was read where {unit} is asked for.",
    "reading.not_a_number": "{name}: {value} is not a number.",
    "reading.too_few": "{name}: {found} of {wanted} readings taken.",
    "reading.fahrenheit_meant": "{value} °C is outside what this can show ({lowest} to {highest} {unit}): "
    "did you mean Fahrenheit?",
    "reading.celsius_meant": "{value} °F is outside what this can show ({lowest} to {highest} {unit}): "
    "did you mean Celsius?",
    "reading.implausible": "{value} {value_unit} is outside what this can show ({lowest} to {highest} {unit}): "
    "is it right?",
    "ask.reading": "{name}?",
}


@dataclass(frozen=True)
class ReadingParams:
    """What is read, between which limits, how many times; what the gauge or the oven can show at all."""

    name: str
    limits: Limits
    pieces: int = 1
    plausible: Limits | None = None


def parse(raw: Mapping[str, str]) -> ReadingParams | list[ParamError]:
    """Read the columns name, least, most, unit, pieces (1 when empty), plausible (20-260, in the same unit)."""
    row = CheckCells(raw)
    name = row.text("name")
    if not name:
        row.wrong("name", "what is read, e.g. hardness")
    if not row.text("unit"):
        row.wrong("unit", "the unit of the reading, e.g. Shore A, g, C, F")
    limits = read_limits(row, None, "")
    pieces = row.whole("pieces", 1)
    plausible = _plausible(row)
    if limits is None or row.errors:
        return row.errors
    return ReadingParams(name, limits, pieces, plausible)


def _plausible(row: CheckCells) -> Limits | None:
    found = row.text("plausible")
    if not found:
        return None
    number = r"(-?\d{1,6}(?:[.,]\d{1,2})?)"
    match = re.fullmatch(rf"{number}\s*(?:-|–|to|\.\.)\s*{number}", found)
    ends = [Decimal(end.replace(",", ".")) for end in match.groups()] if match else []
    if not ends or ends[0] >= ends[1]:
        row.wrong("plausible", "from and to in the reading's own unit: 20-260")
        return None
    return Limits(ends[0], ends[1], row.text("unit"))


def hint(params: ReadingParams, value: Decimal, unit: str = "") -> LimitWord | None:
    """The question to put before such a value is taken; None when the gauge can show it.

    Only a question: what is typed again is news, and judged against the limits as it stands.
    """
    range_ = params.plausible
    if range_ is None or not value.is_finite():
        return None
    exact = in_unit(value, unit, range_.unit)
    if exact is None or range_.side(exact) == "inside":
        return None
    typed = unit.strip() or range_.unit
    figures: dict[str, CheckFigure] = {
        "value": plain(value),
        "value_unit": typed,
        "lowest": range_.low() or "",
        "highest": range_.high() or "",
        "unit": range_.unit,
    }
    own = _DEGREES.get(typed.casefold())
    if own is None:
        return "reading.implausible", figures
    other = in_unit(value, "F" if own == "C" else "C", range_.unit)
    if other is None or range_.side(other) != "inside":
        return "reading.implausible", figures
    return ("reading.fahrenheit_meant" if own == "C" else "reading.celsius_meant"), figures


def dump(params: ReadingParams) -> dict[str, str]:
    """The columns again."""
    range_ = params.plausible
    plausible = "" if range_ is None else f"{range_.low()}-{range_.high()}"
    return {"name": params.name, **params.limits.dump(), "pieces": str(params.pieces), "plausible": plausible}


def questions(params: ReadingParams) -> tuple[Question, ...]:
    """The reading, as many times as it is wanted."""
    limits, many = params.limits, params.pieces
    each: Literal["step", "piece"] = "step" if many == 1 else "piece"
    return (Question(params.name, "ask.reading", limits.unit, "number", limits.low(), limits.high(), each, many),)


def boxes(params: ReadingParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """A box for each reading."""
    unit = params.limits.unit
    if params.pieces == 1:
        return (Box(params.name, unit, 7),)
    return tuple(Box(f"{params.name} {number}", unit, 7) for number in range(1, params.pieces + 1))


def limit_words(params: ReadingParams) -> list[LimitWord]:
    """The limit in short."""
    return params.limits.words()


def judge(params: ReadingParams, evidence: Evidence) -> Judged:
    """Every reading of that name inside, and enough of them; a struck reading is not evidence."""
    readings = evidence.named(params.name)
    wrong = judge_values("reading", params.limits, readings)
    figures: dict[str, CheckFigure] = {
        "name": params.name,
        **params.limits.figures(),
        "found": len(readings),
        "wanted": params.pieces,
    }
    if wrong is not None:
        return Judged(CheckVerdict(wrong.outcome, wrong.code, {**figures, **wrong.figures}))
    if len(readings) < params.pieces:
        return Judged(CheckVerdict("missing", "reading.too_few", figures))
    unit = params.limits.unit
    ordered = sorted(readings, key=lambda reading: in_unit(reading.value, reading.unit, unit) or Fraction(0))
    lowest, highest = ordered[0], ordered[-1]
    figures["lowest"] = f"{plain(lowest.value)} {lowest.unit or unit}"
    figures["highest"] = f"{plain(highest.value)} {highest.unit or unit}"
    return Judged(CheckVerdict("passed", "reading.passed", figures))


KIND: CheckKind[ReadingParams] = CheckKind(
    name="reading",
    columns=COLUMNS,
    scopes=("step", "load", "lot", "piece"),
    parse=parse,
    dump=dump,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
)
