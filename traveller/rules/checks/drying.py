"""Is the resin dry? Hours in the dryer or in its hopper, and where asked its temperature and the moisture.

While a machine draws from the hopper, not the clock counts but the residence: what the hopper holds over what is
drawn an hour. Dried resin left open takes up moisture again, in half an hour to three hours.

Hours and temperatures differ between sources: the resin's data sheet overrides every starting value.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

from traveller.rules.checks.base import (
    Box,
    CheckFigure,
    CheckVerdict,
    Evidence,
    Judged,
    LimitWord,
    LoadEvidence,
    Question,
    ReadingEvidence,
    elapsed,
    judged_by_load,
    worst,
)
from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.degrees import Length, degrees_shown
from traveller.rules.checks.fields import Amount, Degrees, Duration, Field, Ticked, Unit, limit_fields
from traveller.rules.checks.kind import CheckKind, Heat, Limited
from traveller.rules.checks.limits import TIME_UNITS, Limits, Side, in_unit, read_limits, shown_length
from traveller.rules.checks.quantities import TIME
from traveller.rules.checks.readings import judge_values
from traveller.rules.checks.recipes import DRYINGS, RECIPE_WORDS, recipe_field, recipe_words
from traveller.rules.checks.window import HELD_WORDS, judge_held, time_boxes, time_questions

__all__ = ["KIND", "WORDS", "DryingParams", "judge"]

READS = (
    recipe_field(DRYINGS),
    *limit_fields(
        "time in the dryer",
        "hours",
        Field(
            "unit",
            Unit(quantity=TIME, units=("h", "min")),
            "In which unit least and most are.",
            "h",
            within="hours",
        ),
    ),
    Field("temperature", Degrees(), "From and to which temperature the dryer must be.", unit="C or F behind it"),
    Field(
        "moisture",
        Amount("the most moisture in %", least=Decimal(0)),
        "The most moisture the resin may have at the end.",
        unit="% of mass",
        keeps="moisture_most",
    ),
    Field(
        "hopper", Ticked(), "Whether the time counts as hopper mass over throughput.", default="no", keeps="by_hopper"
    ),
    Field("open", Duration(), "How long dried resin may lie open.", unit="s, min or h behind it", keeps="open_most"),
)
HOPPER, THROUGHPUT, OPEN = "hopper", "throughput", "open"

WORDS: Mapping[str, str] = {
    **HELD_WORDS,
    **RECIPE_WORDS,
    "temperature.below": "Load {load}: dryer at {value} {value_unit}, at least {least} {unit} needed.",
    "temperature.above": "Load {load}: dryer at {value} {value_unit}, at most {most} {unit} allowed.",
    "temperature.unit": "Load {load}: the dryer's temperature was given in {value_unit}, not in {unit}.",
    "temperature.not_a_number": "Load {load}: the dryer's temperature {value} is not a number.",
    "temperature.none": "Load {load}: the dryer's temperature was not read.",
    "moisture.above": "Load {load}: moisture {value} %, at most {most} % allowed.",
    "moisture.below": "Load {load}: moisture {value} % cannot be below {least} %.",
    "moisture.unit": "Load {load}: moisture was given in {value_unit}, not in %.",
    "moisture.not_a_number": "Load {load}: the moisture {value} is not a number.",
    "moisture.none": "Load {load}: the moisture was not measured.",
    "residence.below": "Load {load}: {hopper} kg at {throughput} kg an hour stay {lasted} {unit}, "
    "at least {least} {unit} needed.",
    "residence.above": "Load {load}: {hopper} kg at {throughput} kg an hour stay {lasted} {unit}, "
    "at most {most} {unit} allowed.",
    "residence.none": "Load {load}: what the hopper holds and what is drawn an hour were not both recorded.",
    "residence.passed": "Load {load}: {hopper} kg at {throughput} kg an hour stay {lasted} {unit}.",
    "open.above": "Load {load}: the dried resin lay open {value} {value_unit}, at most {most} {unit} allowed.",
    "open.below": "Load {load}: the dried resin cannot lie open {value} {value_unit}.",
    "open.unit": "Load {load}: the time open was given in {value_unit}, not in {unit}.",
    "open.not_a_number": "Load {load}: the time open {value} is not a number.",
    "open.none": "Load {load}: nobody said how long the dried resin lay open.",
    "limit.residence": "counted as hopper mass over throughput",
    "limit.open": "open at most {most} {unit} once dry",
    "ask.hopper": "How many kg does the hopper hold?",
    "ask.throughput": "How many kg an hour are drawn?",
    "ask.open": "How long did the dried resin lie open?",
    "ask.temperature": "Dryer temperature?",
    "ask.moisture": "Moisture of the resin?",
}

_RESIDENCE: Mapping[Side, str] = {
    "inside": "residence.passed",
    "below": "residence.below",
    "above": "residence.above",
}


@dataclass(frozen=True)
class DryingParams:
    """Hours in the dryer; the dryer's temperature and the resin's moisture where they are asked."""

    hours: Limits
    temperature: Limits | None = None
    moisture_most: Decimal | None = None
    by_hopper: bool = False
    open_most: Length | None = None
    recipe: str = ""

    @property
    def open(self) -> Limits | None:
        """How long dried resin may lie open."""
        return None if self.open_most is None else Limits(Decimal(0), self.open_most.amount, self.open_most.unit)

    @property
    def moisture(self) -> Limits | None:
        """Moisture in percent of mass; below nothing there is nothing."""
        return None if self.moisture_most is None else Limits(Decimal(0), self.moisture_most, "%")


def build(row: CheckCells, found: Mapping[str, Any]) -> DryingParams | None:
    """Hours, where there is a limit, and what else is asked."""
    hours = read_limits(row, found)
    if hours is None or row.errors:
        return None
    return DryingParams(
        hours, found["temperature"], found["moisture"], found["hopper"], found["open"], found["recipe"] or ""
    )


def questions(params: DryingParams) -> tuple[Question, ...]:
    """The two times of each load, then temperature and moisture where they are asked."""
    asked = list(time_questions())
    if params.by_hopper:
        asked.append(Question(HOPPER, "ask.hopper", "kg", "number", "0", None, "load"))
        asked.append(Question(THROUGHPUT, "ask.throughput", "kg/h", "number", "0", None, "load"))
    for name, limits in (("temperature", params.temperature), ("moisture", params.moisture), (OPEN, params.open)):
        if limits is not None:
            asked.append(Question(name, f"ask.{name}", limits.unit, "number", limits.low(), limits.high(), "load"))
    return tuple(asked)


def boxes(params: DryingParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """Times in and out, hours, and what else is asked."""
    found = [*time_boxes(), Box("Dried", params.hours.unit, 6)]
    if params.by_hopper:
        found += [Box("Hopper", "kg", 6), Box("Drawn", "kg/h", 6)]
    if params.temperature is not None:
        found.append(Box("Dryer", params.temperature.unit, 6))
    if params.moisture_most is not None:
        found.append(Box("Moisture", "%", 7))
    if params.open is not None:
        found.append(Box("Lay open", params.open.unit, 6))
    return tuple(found)


def limit_words(params: DryingParams) -> list[LimitWord]:
    """Hours, temperature, moisture in short."""
    words = params.hours.words()
    if params.by_hopper:
        words.append(("limit.residence", {}))
    if params.temperature is not None:
        words += params.temperature.words()
    if params.moisture_most is not None:
        words.append(("limit.at_most", {"most": plain(params.moisture_most), "unit": "%"}))
    if params.open is not None:
        words.append(("limit.open", params.open.figures()))
    return [*words, *recipe_words(DRYINGS, params.recipe)]


def _own(evidence: Evidence, load: LoadEvidence, name: str) -> list[ReadingEvidence]:
    """The readings of this load; one that names no load belongs to the only load there is."""
    alone = len(evidence.loads) == 1
    found = evidence.named(name)
    return [reading for reading in found if reading.load == load.number or (alone and reading.load is None)]


def _final_moisture(load: LoadEvidence, readings: list[ReadingEvidence]) -> list[ReadingEvidence]:
    """What tells the state of the resin at the end: all readings from then on, else the last one before.

    A reading during drying shows progress and is overtaken by the next; measuring again afterwards until
    one fits is no proof, so every later reading counts.
    """
    end = load.ended_at
    after = [r for r in readings if end is not None and elapsed(end, r.taken_at).total_seconds() >= 0]
    return after or readings[-1:]


def _amount(readings: list[ReadingEvidence], unit: str) -> Fraction | None:
    """The last amount that was read, above nothing."""
    number = readings[-1].number if readings else None
    value = None if number is None else in_unit(number, readings[-1].unit.removesuffix("/h"), unit)
    return value if value is not None and value > 0 else None


def _judge_residence(params: DryingParams, evidence: Evidence, load: LoadEvidence) -> CheckVerdict:
    """Hopper mass over throughput; the emptiest and the fastest that was read are the least residence."""
    hoppers, drawn = _own(evidence, load, HOPPER), _own(evidence, load, THROUGHPUT)
    held = [_amount([reading], "kg") for reading in hoppers]
    rates = [_amount([reading], "kg") for reading in drawn]
    figures: dict[str, CheckFigure] = {"load": load.number, **params.hours.figures()}
    masses, speeds = [m for m in held if m is not None], [r for r in rates if r is not None]
    if not masses or not speeds or None in held or None in rates:
        return CheckVerdict("missing", "residence.none", figures)
    mass, speed = min(masses), max(speeds)
    stays = timedelta(seconds=float(mass / speed * 3600))
    figures |= {"hopper": degrees_shown(float(mass)), "throughput": degrees_shown(float(speed), up=True)}
    figures["lasted"] = shown_length(stays, params.hours)
    side = params.hours.side(mass / speed * 3600 / TIME_UNITS[params.hours.unit])
    return CheckVerdict("passed" if side == "inside" else "failed", _RESIDENCE[side], figures)


def _judge_load(params: DryingParams, evidence: Evidence, load: LoadEvidence) -> CheckVerdict:
    held = _judge_residence(params, evidence, load) if params.by_hopper else judge_held(params.hours, load)
    found = [held]
    moisture = _final_moisture(load, _own(evidence, load, "moisture"))
    asked = (
        ("temperature", params.temperature, _own(evidence, load, "temperature")),
        ("moisture", params.moisture, moisture),
        (OPEN, params.open, _own(evidence, load, OPEN)),
    )
    for name, limits, readings in asked:
        if limits is None:
            continue
        if not readings:
            found.append(CheckVerdict("missing", f"{name}.none", {**limits.figures(), "load": load.number}))
            continue
        wrong = judge_values(name, limits, readings)
        if wrong is not None:
            found.append(CheckVerdict(wrong.outcome, wrong.code, {**wrong.figures, "load": load.number}))
    return worst(found) or held


def judge(params: DryingParams, evidence: Evidence) -> Judged:
    """Every dryer filling by itself; a step that only prepares has loads without pieces."""
    return judged_by_load(evidence, lambda load: _judge_load(params, evidence, load))


def limits(params: DryingParams) -> tuple[Limited, ...]:
    """Hours, and what else is asked."""
    more = (("temperature", params.temperature), ("moisture", params.moisture), (OPEN, params.open))
    return (
        Limited("dried", params.hours),
        *(Limited(name, limit, (name,)) for name, limit in more if limit is not None),
    )


def timer(params: DryingParams) -> int | None:
    """The least time, in seconds; what a hopper's throughput must be, no clock tells."""
    least = params.hours.least
    return None if least is None or params.by_hopper else int(least * TIME_UNITS[params.hours.unit])


def heat(params: DryingParams) -> Heat | None:
    """The dryer's temperature."""
    return None if params.temperature is None else Heat(params.temperature)


KIND: CheckKind[DryingParams] = CheckKind(
    name="drying",
    order=30,
    title="Resin dried",
    about="The resin was in the dryer long enough; where asked it was hot enough, dry enough and not left open.",
    fields=READS,
    example={"least": "4", "most": "8", "unit": "h", "temperature": "75-88 C", "moisture": "0.02"},
    scopes=("load",),
    needs={"times": "load", "readings": "load", "counts": "load"},
    build=build,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
    limits=limits,
    timer=timer,
    heat=heat,
    by_load=True,
    recipes=DRYINGS,
)
