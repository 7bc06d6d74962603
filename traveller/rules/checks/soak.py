"""Was each load hot long enough, and never too hot? A temperature log at or above T for t.

Between readings the temperature is taken as a straight line. A gap longer than the check allows is missing
evidence, never a pass; 2 min where the row says nothing (common practice, no source).
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
    LoadEvidence,
    ParamError,
    Question,
    judged_by_load,
)
from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.degrees import Length, as_celsius, degrees, degrees_shown, dump_degrees, length
from traveller.rules.checks.limits import LIMIT_WORDS, TIME_UNITS, Limits
from traveller.rules.checks.logged import LOGGED_WORDS, log_boxes, log_questions, part_judged, stamp
from traveller.rules.soak import HAIR_C, HAIR_S, Held, held

__all__ = ["COLUMNS", "GAP", "KIND", "WORDS", "SoakParams", "judge", "parse"]

COLUMNS = ("least", "total", "most", "unit", "temperature", "gap")
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


def parse(raw: Mapping[str, str]) -> SoakParams | list[ParamError]:
    """Read the columns temperature (150 C, or 150-200 C never above 200), least (unbroken), total, most, unit, gap."""
    row = CheckCells(raw)
    wanted = "the temperature with its unit: 150 C, or 150-200 C where above 200 is a failure"
    temperature = degrees(row, "temperature", wanted)
    if temperature is None and not row.errors:
        row.wrong("temperature", wanted)
    unit = row.unit("unit", tuple(TIME_UNITS), "min")
    known = len(row.errors)
    least, total, most = (row.number(name, f"a number ({unit})", least=Decimal(0)) for name in COLUMNS[:3])
    if least is None and total is None and len(row.errors) == known:
        row.wrong("least", "a number here or in the column total")
    longest = max((number for number in (least, total) if number is not None), default=None)
    if most is not None and longest is not None and most < longest:
        row.wrong("most", f"{plain(longest)} or more, since so much is needed")
    gap = length(row, "gap")
    if row.errors or temperature is None:
        return row.errors
    return SoakParams(temperature, unit, least, total, most, gap or GAP)


def dump(params: SoakParams) -> dict[str, str]:
    """The columns again."""
    times = {"least": params.least, "total": params.total, "most": params.most}
    return {
        **{name: "" if number is None else plain(number) for name, number in times.items()},
        "unit": params.unit,
        "temperature": dump_degrees(params.temperature),
        "gap": params.gap.words(),
    }


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


KIND: CheckKind[SoakParams] = CheckKind(
    name="soak",
    columns=COLUMNS,
    scopes=("load",),
    parse=parse,
    dump=dump,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
    by_load=True,
)
