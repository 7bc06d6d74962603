"""Is the resin dry? Hours in the dryer, and where asked its temperature and the resin's moisture.

Hours and temperatures differ between sources: the resin's data sheet overrides every starting value.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from traveller.rules.checks.base import (
    Box,
    CheckKind,
    Evidence,
    Judged,
    LimitWord,
    LoadEvidence,
    ParamError,
    Question,
    ReadingEvidence,
    Verdict,
    elapsed,
    judged_by_load,
    worst,
)
from traveller.rules.checks.columns import Row, plain
from traveller.rules.checks.limits import Limits, read_limits
from traveller.rules.checks.readings import judge_values
from traveller.rules.checks.window import HELD_WORDS, judge_held, time_boxes, time_questions

__all__ = ["COLUMNS", "KIND", "WORDS", "DryingParams", "judge", "parse"]

COLUMNS = ("least", "most", "unit", "temperature", "moisture")
TEMPERATURE_WANTED = "a range with its unit: 75-88 C, or 120 C for at least 120 C, or 167-190 F"

WORDS: Mapping[str, str] = {
    **HELD_WORDS,
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
    "ask.temperature": "Dryer temperature?",
    "ask.moisture": "Moisture of the resin?",
}


@dataclass(frozen=True)
class DryingParams:
    """Hours in the dryer; the dryer's temperature and the resin's moisture where they are asked."""

    hours: Limits
    temperature: Limits | None = None
    moisture_most: Decimal | None = None

    @property
    def moisture(self) -> Limits | None:
        """Moisture in percent of mass; below nothing there is nothing."""
        return None if self.moisture_most is None else Limits(Decimal(0), self.moisture_most, "%")


def _read_temperature(row: Row) -> Limits | None:
    found = row.text("temperature")
    number = r"(-?\d+(?:[.,]\d{1,2})?)"
    match = re.fullmatch(rf"{number}\s*(?:(?:-|–|to|\.\.)\s*{number})?\s*°?\s*([CcFf])", found)
    if not match:
        if found:
            row.wrong("temperature", TEMPERATURE_WANTED)
        return None
    least = Decimal(match[1].replace(",", "."))
    most = Decimal(match[2].replace(",", ".")) if match[2] else None
    if most is not None and most < least:
        row.wrong("temperature", TEMPERATURE_WANTED)
        return None
    return Limits(least, most, match[3].upper())


def parse(raw: Mapping[str, str]) -> DryingParams | list[ParamError]:
    """Read the columns least, most, unit (h when empty), temperature (75-88 C), moisture (most %)."""
    row = Row(raw)
    hours = read_limits(row, ("h", "min"), "h", floor_value=Decimal(0))
    temperature = _read_temperature(row)
    moisture = row.number("moisture", "the most moisture in %", least=Decimal(0))
    if hours is None or row.errors:
        return row.errors
    return DryingParams(hours, temperature, moisture)


def dump(params: DryingParams) -> dict[str, str]:
    """The columns again."""
    temperature = ""
    if params.temperature is not None:
        ends = [end for end in (params.temperature.low(), params.temperature.high()) if end is not None]
        temperature = f"{'-'.join(ends)} {params.temperature.unit}"
    moisture = "" if params.moisture_most is None else plain(params.moisture_most)
    return {**params.hours.dump(), "temperature": temperature, "moisture": moisture}


def questions(params: DryingParams) -> tuple[Question, ...]:
    """The two times of each load, then temperature and moisture where they are asked."""
    asked = list(time_questions())
    for name, limits in (("temperature", params.temperature), ("moisture", params.moisture)):
        if limits is not None:
            asked.append(Question(name, f"ask.{name}", limits.unit, "number", limits.low(), limits.high(), "load"))
    return tuple(asked)


def boxes(params: DryingParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """Times in and out, hours, and what else is asked."""
    found = [*time_boxes(), Box("Dried", params.hours.unit, 6)]
    if params.temperature is not None:
        found.append(Box("Dryer", params.temperature.unit, 6))
    if params.moisture_most is not None:
        found.append(Box("Moisture", "%", 7))
    return tuple(found)


def limit_words(params: DryingParams) -> list[LimitWord]:
    """Hours, temperature, moisture in short."""
    words = params.hours.words()
    if params.temperature is not None:
        words += params.temperature.words()
    if params.moisture_most is not None:
        words.append(("limit.at_most", {"most": plain(params.moisture_most), "unit": "%"}))
    return words


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


def _judge_load(params: DryingParams, evidence: Evidence, load: LoadEvidence) -> Verdict:
    held = judge_held(params.hours, load)
    found = [held]
    moisture = _final_moisture(load, _own(evidence, load, "moisture"))
    asked = (
        ("temperature", params.temperature, _own(evidence, load, "temperature")),
        ("moisture", params.moisture, moisture),
    )
    for name, limits, readings in asked:
        if limits is None:
            continue
        if not readings:
            found.append(Verdict("missing", f"{name}.none", {**limits.figures(), "load": load.number}))
            continue
        wrong = judge_values(name, limits, readings)
        if wrong is not None:
            found.append(Verdict(wrong.outcome, wrong.code, {**wrong.figures, "load": load.number}))
    return worst(found) or held


def judge(params: DryingParams, evidence: Evidence) -> Judged:
    """Every dryer filling by itself; a step that only prepares has loads without pieces."""
    return judged_by_load(evidence, lambda load: _judge_load(params, evidence, load))


KIND: CheckKind[DryingParams] = CheckKind(
    name="drying",
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
