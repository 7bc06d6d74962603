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
from traveller.rules.checks.fields import Amount, Degrees, Field, OneOf, Unit
from traveller.rules.checks.kind import CheckKind, Heat, Limited
from traveller.rules.checks.limits import LIMIT_WORDS, TIME_UNITS, Limits
from traveller.rules.checks.logged import (
    GAP,
    GAP_FIELD,
    LOGGED_WORDS,
    log_boxes,
    log_questions,
    notes_of,
    part_judged,
    stamp,
)
from traveller.rules.checks.probe import PROBE, note_of, probe_of, reaches
from traveller.rules.checks.quantities import TIME
from traveller.rules.checks.recipes import BAKES, RECIPE_WORDS, recipe_field, recipe_words
from traveller.rules.logs.found import Probe
from traveller.rules.soak import HAIR_C, HAIR_S, Held, held

__all__ = ["KIND", "WORDS", "SoakParams", "judge"]

READS = (
    recipe_field(BAKES),
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
    Field(
        "where",
        OneOf(words=("air", "surface", "part")),
        "What has to be so hot: the air of the oven, the surface of the parts, or the inside of a part.",
        "air",
    ),
    PROBE,
    GAP_FIELD,
)

WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    **LIMIT_WORDS,
    **LOGGED_WORDS,
    **RECIPE_WORDS,
    "soak.passed": "Load {load}: {longest} {unit} unbroken and {in_all} {unit} in all at or above {hot} {degrees}, "
    "from {lowest_c} to {highest_c} °C.",
    "soak.too_short": "Load {load}: {longest} {unit} unbroken at or above {hot} {degrees}, {least} {unit} needed.",
    "soak.too_little": "Load {load}: {in_all} {unit} in all at or above {hot} {degrees}, {total} {unit} needed.",
    "soak.too_long": "Load {load}: {in_all} {unit} in all at or above {hot} {degrees}, at most {most} {unit} allowed.",
    "soak.too_hot": "Load {load}: {highest_c} °C was reached, at most {hottest} {degrees} allowed.",
    "soak.no_air": "Load {load}: the probe was in a platen, and the air of an oven is asked for. "
    "Send a log of the air.",
    "soak.no_surface": "Load {load}: it was hot enough where the probe was, which does not show that the "
    "surface of the parts was. Send a log with its probe on the surface of a part.",
    "soak.no_inside": "Load {load}: it was hot enough where the probe was, which does not show that the inside of a "
    "part was. Send a log with its probe inside a part.",
    "soak.outside_unseen": "Load {load}: hot enough further in, but how hot and how long it was where the limit counts "
    "was not seen. Send a log from there.",
    "limit.of_air": "in the air of the oven",
    "limit.of_surface": "on the surface of the parts",
    "limit.of_part": "inside a part",
    "limit.soak": "{least} {unit} unbroken at {hot} {degrees} or more",
    "limit.soak_in_all": "{total} {unit} in all at {hot} {degrees} or more",
    "limit.soak_most": "at most {most} {unit} at {hot} {degrees} or more",
    "limit.hottest": "never above {hottest} {degrees}",
}


_OF: Mapping[Probe, str] = {"air": "limit.of_air", "surface": "limit.of_surface", "part": "limit.of_part"}


@dataclass(frozen=True)
class SoakParams:
    """How hot, how long unbroken, how long in all, and the longest time between two readings."""

    temperature: Limits
    unit: str = "min"
    least: Decimal | None = None
    total: Decimal | None = None
    most: Decimal | None = None
    gap: Length = GAP
    where: Probe = "air"
    probe: str = ""
    recipe: str = ""

    @property
    def proves_s(self) -> float:
        """The shortest time in seconds that a log has to prove."""
        return min(self.seconds(number) for number in (self.least, self.total) if number is not None)

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
    place = (found["where"], found["probe"] or "", found["recipe"] or "")
    return SoakParams(found["temperature"], found["unit"], least, total, most, found["gap"], *place)


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
    words += [("limit.hottest", figures)] if "hottest" in figures else []
    return [*words, (_OF[params.where], {}), *recipe_words(BAKES, params.recipe)]


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
    part, missing, known = part_judged(load, params.gap, params.proves_s)
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
    if unseen := _elsewhere(params, load, got, figures):
        return CheckVerdict("missing", unseen, figures)
    if missing is not None and (_limited_above(params) or _short(params, got)):
        return CheckVerdict("missing", missing.code, figures)
    if missing is not None:
        # What nobody saw can take nothing away from what was seen.
        notes_of(figures, "logged.note_gap")
    if code := _short(params, got):
        return CheckVerdict("failed", code, figures)
    return CheckVerdict("passed", "soak.passed", figures)


def _limited_above(params: SoakParams) -> bool:
    """Whether it may be too hot or too long: then what was not seen counts too."""
    return params.most is not None or params.temperature.most is not None


def _elsewhere(params: SoakParams, load: LoadEvidence, got: Held, figures: dict[str, CheckFigure]) -> str:
    """Why a log from where its probe was cannot prove this; empty where it can, or need not since too little is seen.

    A log of the air is the least that a log can be: where the air is asked for, nobody is asked.
    """
    assert load.log is not None
    probe = probe_of(load.log, params.probe) or ("air" if params.where == "air" else None)
    if probe is None:
        return "logged.no_probe"
    notes_of(figures, note_of(probe))
    if params.where == "air" and probe == "platen":
        return "soak.no_air"
    further = reaches(probe, params.where)
    if further < 0:
        # What was too short outside was too short inside: that it failed needs no other probe.
        return "" if _short(params, got) else "soak.no_inside" if params.where == "part" else "soak.no_surface"
    return "soak.outside_unseen" if further > 0 and _limited_above(params) else ""


def _short(params: SoakParams, got: Held) -> str:
    """Which of the least times was not met; empty where both were."""
    if params.least is not None and got.longest_s < params.seconds(params.least) - HAIR_S:
        return "soak.too_short"
    if params.total is not None and got.total_s < params.seconds(params.total) - HAIR_S:
        return "soak.too_little"
    return ""


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
    example={
        "least": "20",
        "total": "30",
        "most": "60",
        "unit": "min",
        "temperature": "150-200 C",
        "where": "air",
        "gap": "90 s",
    },
    scopes=("load",),
    needs={"times": "load", "log": "load", "counts": "load"},
    build=build,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
    limits=limits,
    heat=lambda params: Heat(
        params.temperature,
        params.gap,
        proves_s=params.proves_s,
        asks_probe=params.where != "air" and not params.probe,
    ),
    inward={
        "limit.soak": {"hot": "up"},
        "limit.soak_in_all": {"hot": "up"},
        "limit.soak_most": {"hot": "down"},
        "limit.hottest": {"hottest": "down"},
    },
    by_load=True,
    recipes=BAKES,
)
