"""Was each material still good when it was used? Shelf life to its last day, pot life from mixing at its temperature.

Checked at use, not at receipt: mixed ink past its life still looks usable. Pot life halves for every 10 degrees
more with the usual two-component inks; the data sheet overrides it.
"""

from __future__ import annotations

import re
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
    MaterialEvidence,
    Question,
    elapsed,
    worst,
)
from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.degrees import Length, as_celsius, degrees_shown, dump_degrees
from traveller.rules.checks.fields import Amount, CellReader, Field, Phrase
from traveller.rules.checks.kind import CheckKind, Limited
from traveller.rules.checks.limits import Limits
from traveller.rules.potlife import PotLife, days_left, is_expired

__all__ = ["KIND", "WORDS", "AgeParams", "judge"]

_POT_LIFE = re.compile(
    r"(\d{1,5}(?:[.,]\d{1,2})?)\s*(min|h)(?:\s*(?:at|@)\s*(\d{1,3}(?:[.,]\d)?)\s*°?\s*([CF]))?", re.I
)
_WANTED = "a time with its temperature: 8 h at 25 C"
_HALVING = Decimal(10)

WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    "age.passed": "{materials} in date when used.",
    "age.passed_last": "{materials} in date when used; days left of lot {lot}: {days}.",
    "age.expired": "Lot {lot} ({material}) was used on {used}; its last day was {expires}.",
    "age.past_pot_life": "Lot {lot} ({material}), mixed {mixed}, was used {aged} min later; "
    "its pot life at {temperature} C is {pot_life} min.",
    "age.used_before_mixing": "Lot {lot} ({material}) was used ({used}) before it was mixed ({mixed}).",
    "age.no_mixing": "Nobody said when lot {lot} ({material}) was mixed.",
    "age.no_temperature": "Nobody said at which temperature lot {lot} ({material}) stood after mixing.",
    "age.no_expiry": "Lot {lot} ({material}) has no last day of use.",
    "age.none_used": "Nobody said which lot of {material} was used.",
    "age.nothing_used": "Nobody said which lots were used.",
    "limit.age": "in date when used",
    "limit.pot_life": "used within {pot_life} at {at} of mixing, half for {doubling} degrees more",
    "ask.lot": "Which lot do you use?",
    "ask.mixed_at": "When was it mixed?",
    "ask.room": "How warm is it where the mix stands?",
}


@dataclass(frozen=True)
class _PotLife(CellReader[tuple[Length, Limits]]):
    """A time with its temperature: 8 h at 25 C."""

    wanted: str = _WANTED

    def _read(self, row: CheckCells, column: str, unit: str) -> tuple[Length, Limits] | None:
        match = _POT_LIFE.fullmatch(row.text(column))
        lasts = Length(Decimal(match[1].replace(",", ".")), match[2].lower()) if match else None
        if match is None or match[3] is None or lasts is None or lasts.seconds < 60:
            row.wrong(column, self.wanted)
            return None
        return lasts, Limits(Decimal(match[3].replace(",", ".")), None, match[4].upper())

    def _write(self, value: tuple[Length, Limits]) -> str:
        return f"{value[0].words()} at {dump_degrees(value[1])}"


READS = (
    Field("name", Phrase(), "Which material; empty: all that are used."),
    Field("pot_life", _PotLife(), "How long a mix may be used, at which temperature.", unit="8 h at 25 C", keeps="mix"),
    Field(
        "doubling",
        Amount("degrees above 0", above_zero=True),
        "Degrees more that halve the pot life.",
        plain(_HALVING),
        unit="degrees of the temperature beside it",
        keeps="halving",
    ),
)


@dataclass(frozen=True)
class AgeParams:
    """Which material (empty: all that are used), and its pot life where it is mixed."""

    name: str = ""
    pot_life: Length | None = None
    at: Limits | None = None
    halving: Decimal = _HALVING

    @property
    def mix(self) -> tuple[Length, Limits] | None:
        """The pot life and its temperature; None where nothing is mixed."""
        return None if self.pot_life is None or self.at is None else (self.pot_life, self.at)

    @property
    def law(self) -> PotLife | None:
        """The pot life as a rule; None where nothing is mixed."""
        if self.pot_life is None or self.at is None:
            return None
        degrees = float(self.halving) * (5 / 9 if self.at.unit == "F" else 1)
        return PotLife(int(self.pot_life.seconds / 60), as_celsius(self.at.least or Decimal(0), self.at.unit), degrees)


def build(row: CheckCells, found: Mapping[str, Any]) -> AgeParams | None:
    """A material, and its pot life where it is mixed."""
    lasts, at = found["pot_life"] or (None, None)
    return None if row.errors else AgeParams(found["name"], lasts, at, found["doubling"])


def questions(params: AgeParams) -> tuple[Question, ...]:
    """The lot; when it was mixed and how warm it stands where it is mixed."""
    asked = (Question("lot", "ask.lot", "", "text", None, None, "step", told="count"),)
    if params.at is None:
        return asked
    mixed = Question("mixed_at", "ask.mixed_at", "", "time", None, None, "step")
    return (*asked, mixed, Question("room", "ask.room", params.at.unit, "number", None, None, "step"))


def boxes(params: AgeParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """Lot and last day; mixing time and temperature where it is mixed."""
    found = (Box(f"Lot {params.name}".strip(), "", 10), Box("Use by", "date", 8))
    return found if params.at is None else (*found, Box("Mixed at", "time", 8), Box("Room", params.at.unit, 5))


def limit_words(params: AgeParams) -> list[LimitWord]:
    """In date; the pot life where it is mixed."""
    words: list[LimitWord] = [("limit.age", {})]
    if params.pot_life is not None:
        at, halving = dump_degrees(params.at), plain(params.halving)
        words.append(("limit.pot_life", {"pot_life": params.pot_life.words(), "at": at, "doubling": halving}))
    return words


def _judge_mix(law: PotLife, one: MaterialEvidence, figures: dict[str, CheckFigure]) -> CheckVerdict | None:
    if one.mixed_at is None:
        return CheckVerdict("missing", "age.no_mixing", figures)
    figures["mixed"] = one.mixed_at.isoformat()
    if one.temperature_c is None or not one.temperature_c.is_finite():
        return CheckVerdict("missing", "age.no_temperature", figures)
    aged = elapsed(one.mixed_at, one.used_at).total_seconds()
    if aged < 0:
        return CheckVerdict("missing", "age.used_before_mixing", figures)
    minutes = law.minutes_at(float(one.temperature_c))
    figures |= {
        "temperature": plain(one.temperature_c),
        "pot_life": str(minutes),
        "aged": degrees_shown(aged / 60, 1, up=True),
    }
    return CheckVerdict("failed", "age.past_pot_life", figures) if aged > minutes * 60 else None


def _judge_material(params: AgeParams, one: MaterialEvidence) -> CheckVerdict | None:
    """What is wrong with one lot; None when it was good."""
    figures: dict[str, CheckFigure] = {"lot": one.lot, "material": one.kind, "used": one.used_at.isoformat()}
    if one.expires_on is not None:
        figures["expires"] = one.expires_on.isoformat()
    if is_expired(one.expires_on, one.used_at.date()):
        return CheckVerdict("failed", "age.expired", {**figures, "used": one.used_at.date().isoformat()})
    law = params.law
    if law is not None:
        return _judge_mix(law, one, figures)
    return CheckVerdict("missing", "age.no_expiry", figures) if one.expires_on is None else None


def judge(params: AgeParams, evidence: Evidence) -> Judged:
    """Every lot that was used, at the time of its use."""
    wanted = params.name.casefold()
    used = [one for one in evidence.materials if not wanted or one.kind.casefold() == wanted]
    if not used:
        code = "age.none_used" if params.name else "age.nothing_used"
        return Judged(CheckVerdict("missing", code, {"material": params.name}))
    wrong = worst(found for found in (_judge_material(params, one) for one in used) if found is not None)
    if wrong is not None:
        return Judged(wrong)
    figures: dict[str, CheckFigure] = {"materials": ", ".join(one.lot for one in used)}
    dated = [(days_left(one.expires_on, one.used_at.date()), one.lot) for one in used if one.expires_on is not None]
    if not dated:
        return Judged(CheckVerdict("passed", "age.passed", figures))
    days, lot = min(dated)
    return Judged(CheckVerdict("passed", "age.passed_last", {**figures, "days": days, "lot": lot}))


def limits(params: AgeParams) -> tuple[Limited, ...]:
    """The pot life, where it is mixed; a last day is the lot's own."""
    life = params.pot_life
    return () if life is None else (Limited("pot life", Limits(None, life.amount, life.unit)),)


KIND: CheckKind[AgeParams] = CheckKind(
    name="age",
    order=100,
    title="Material in date",
    about="Each material was still good when it was used: before its last day, and within its pot life once mixed.",
    fields=READS,
    example={"name": "ink", "pot_life": "8 h at 25 C", "doubling": "10"},
    scopes=("step", "lot"),
    needs={"materials": "lot", "readings": "step"},
    build=build,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
    limits=limits,
)
