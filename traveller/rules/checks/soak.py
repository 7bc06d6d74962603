"""Was each load hot long enough, and never too hot? A temperature log at or above T for t.

Between readings the temperature is taken as a straight line. A gap longer than the check allows is missing
evidence, never a pass; 2 min where the row says nothing (common practice, no source).
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
    LoadEvidence,
    Question,
    judged_by_load,
)
from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.degrees import Length, as_celsius, degrees_shown
from traveller.rules.checks.fields import Amount, Degrees, Duration, Field, Unit
from traveller.rules.checks.kind import CheckKind, Heat, Limited
from traveller.rules.checks.limits import LIMIT_WORDS, TIME_UNITS, Limits
from traveller.rules.checks.logged import LOGGED_WORDS, log_boxes, log_questions, part_judged, stamp
from traveller.rules.checks.quantities import TIME
from traveller.rules.soak import HAIR_C, HAIR_S, Held, held

__all__ = ["GAP", "KIND", "WORDS", "SoakParams", "judge"]

READS = (
    Field("least", Amount(least=Decimal(0)), "The least time unbroken at the temperature.", unit="as in unit"),
    Field("total", Amount(least=Decimal(0)), "The least time in all at the temperature.", unit="as in unit"),
    Field("most", Amount(least=Decimal(0)), "The most time in all at the temperature.", unit="as in unit"),
    Field("unit", Unit(quantity=TIME), "In which unit least, total and most are.", "min"),
    Field(
        "temperature",
        Degrees("the temperature with its unit: 150 C, or 150-200 C where above 200 is a failure"),
        "From which temperature on time counts, and where asked up to which it may rise.",
        unit="C or F behind it",
        needed=True,
    ),
    Field("gap", Duration(), "The longest time without a reading of the log.", "2 min", unit="s, min or h behind it"),
)
GAP = Length(Decimal(2), "min")

WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    **LIMIT_WORDS,
    **LOGGED_WORDS,
    "soak.passed": "Load {load}: {longest} {unit} unbroken and {in_all} {unit} in all at or above {hot} {degrees}, "
    "from {lowest_c} to {highest_c} °C.",
    "soak.too_short": "Load {load}: {longest} {unit} unbroken at or above {hot} {degrees}, {least} {unit} needed.",
    "soak.too_little": "Load {load}: {in_all} {unit} in all at or above {hot} {degrees}, {total} {unit} needed.",
    "soak.too_long": "Load {load}: {in_all} {unit} in all at or above {hot} {degrees}, at most {most} {unit} allowed.",
    "soak.too_hot": "Load {load}: {highest_c} °C was reached, at most {hottest} {degrees} allowed.",
    "limit.soak": "{least} {unit} unbroken at {hot} {degrees} or more",
    "limit.soak_in_all": "{total} {unit} in all at {hot} {degrees} or more",
    "limit.soak_most": "at most {most} {unit} at {hot} {degrees} or more",
    "limit.hottest": "never above {hottest} {degrees}",
}


@dataclass(frozen=True)
class SoakParams:
    """How hot, how long unbroken, how long in all, and the longest time between two readings."""

    temperature: Limits
    unit: str = "min"
    least: Decimal | None = None
    total: Decimal | None = None
    most: Decimal | None = None
    gap: Length = GAP

    @property
    def hot(self) -> Decimal:
        """The temperature that counts."""
        return self.temperature.least or Decimal(0)

    def seconds(self, amount: Decimal) -> float:
        """A length in the check's unit."""
        return float(amount) * TIME_UNITS[self.unit]

    def figures(self) -> dict[str, CheckFigure]:
        """The limits that are given."""
        named = {"least": self.least, "total": self.total, "most": self.most, "hottest": self.temperature.most}
        given: dict[str, CheckFigure] = {name: plain(number) for name, number in named.items() if number is not None}
        return {**given, "unit": self.unit, "hot": plain(self.hot), "degrees": self.temperature.unit}


def build(row: CheckCells, found: Mapping[str, Any]) -> SoakParams | None:
    """One of the two least times is needed; the most is no less than either."""
    least, total, most = found["least"], found["total"], found["most"]
    if least is None and total is None and not row.is_wrong("least", "total"):
        row.wrong("least", "a number here or in the column total")
    longest = max((number for number in (least, total) if number is not None), default=None)
    if most is not None and longest is not None and most < longest:
        row.wrong("most", f"{plain(longest)} or more, since so much is needed")
    if row.errors:
        return None
    return SoakParams(found["temperature"], found["unit"], least, total, most, found["gap"])


def questions(params: SoakParams) -> tuple[Question, ...]:
    """The load's times and its log."""
    return log_questions()


def boxes(params: SoakParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """Times, log, and what somebody reads off the strip."""
    return (*log_boxes(), Box("Time at heat", params.unit, 6), Box("Highest", params.temperature.unit, 6))


def limit_words(params: SoakParams) -> list[LimitWord]:
    """Each limit in short."""
    figures = params.figures()
    named = (("limit.soak", "least"), ("limit.soak_in_all", "total"), ("limit.soak_most", "most"))
    words: list[LimitWord] = [(code, figures) for code, name in named if name in figures]
    return [*words, ("limit.hottest", figures)] if "hottest" in figures else words


def _found(params: SoakParams, got: Held) -> dict[str, CheckFigure]:
    seconds = TIME_UNITS[params.unit]
    over = params.most is not None and got.total_s > params.seconds(params.most) + HAIR_S
    figures: dict[str, CheckFigure] = {
        "longest": degrees_shown(got.longest_s / seconds),
        "in_all": degrees_shown(got.total_s / seconds, up=over),
        "lowest_c": degrees_shown(got.lowest_c, 1),
        "highest_c": degrees_shown(got.highest_c, 1, up=True),
    }
    if got.reached_at is not None:
        figures["reached"] = stamp(got.reached_at)
    return figures


def _judge_load(params: SoakParams, load: LoadEvidence) -> CheckVerdict:
    part, missing, known = part_judged(load, params.gap)
    figures = {**params.figures(), **known}
    if part is None:
        assert missing is not None
        return CheckVerdict("missing", missing.code, figures)
    got = held(part, as_celsius(params.hot, params.temperature.unit))
    figures |= _found(params, got)
    hottest = params.temperature.most
    if hottest is not None and got.highest_c > as_celsius(hottest, params.temperature.unit) + HAIR_C:
        return CheckVerdict("failed", "soak.too_hot", figures)
    # What was seen too long is too long whatever the gaps hide; what was too short may have gone on in them.
    if params.most is not None and got.total_s > params.seconds(params.most) + HAIR_S:
        return CheckVerdict("failed", "soak.too_long", figures)
    if missing is not None:
        return CheckVerdict("missing", missing.code, figures)
    if params.least is not None and got.longest_s < params.seconds(params.least) - HAIR_S:
        return CheckVerdict("failed", "soak.too_short", figures)
    if params.total is not None and got.total_s < params.seconds(params.total) - HAIR_S:
        return CheckVerdict("failed", "soak.too_little", figures)
    return CheckVerdict("passed", "soak.passed", figures)


def judge(params: SoakParams, evidence: Evidence) -> Judged:
    """Every load by its own part of its log; pieces that no load holds are missing evidence."""
    return judged_by_load(evidence, lambda load: _judge_load(params, load))


def limits(params: SoakParams) -> tuple[Limited, ...]:
    """The temperature, the time unbroken and the time in all."""
    found = [Limited("temperature", params.temperature)]
    if params.least is not None:
        found.append(Limited("unbroken", Limits(params.least, None, params.unit)))
    if params.total is not None or params.most is not None:
        found.append(Limited("in all", Limits(params.total, params.most, params.unit)))
    return tuple(found)


KIND: CheckKind[SoakParams] = CheckKind(
    name="soak",
    order=40,
    title="Held hot",
    about="Each load was at or above a temperature for long enough, and never too hot, by its temperature log.",
    fields=READS,
    example={"least": "20", "total": "30", "most": "60", "unit": "min", "temperature": "150-200 C", "gap": "90 s"},
    scopes=("load",),
    needs={"times": "load", "log": "load", "counts": "load"},
    build=build,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
    limits=limits,
    heat=lambda params: Heat(params.temperature, params.gap),
    inward={
        "limit.soak": {"hot": "up"},
        "limit.soak_in_all": {"hot": "up"},
        "limit.soak_most": {"hot": "down"},
        "limit.hottest": {"hottest": "down"},
    },
    by_load=True,
)
