"""Is each load cured, all through, and not too much? Its log as equivalent minutes against t90.

Minutes alone prove nothing: about 10 degrees C hotter halves the time. Eight minutes at the set temperature is
common practice, with no source. For a thick part the middle is judged too, so that the log of a hot surface
does not pass a raw core: the least must be met in the middle, the most must not be passed at the face. What a log says
of either hangs on where its probe was (`inside`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
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
from traveller.rules.checks.curve import RheometerCurve
from traveller.rules.checks.degrees import Length, as_celsius, degrees_shown, dump_degrees
from traveller.rules.checks.fields import Amount, Degrees, Field, Unit, limit_fields
from traveller.rules.checks.inside import (
    INSIDE_FIELDS,
    INSIDE_WORDS,
    InsideParams,
    PartHeat,
    fits_together,
    middle_of,
    seen_of,
    worth,
)
from traveller.rules.checks.kind import CheckKind, Heat, Limited
from traveller.rules.checks.limits import LIMIT_WORDS, Limits, read_limits
from traveller.rules.checks.logged import GAP, GAP_FIELD, LOGGED_WORDS, log_boxes, log_questions, notes_of, part_judged
from traveller.rules.checks.ninety import T90, MinutesAsked, minutes_asked, t90_of
from traveller.rules.cure import Arrhenius, Doubling, Rate, Rheometer, from_curve
from traveller.rules.soak import Trace

__all__ = ["KIND", "WORDS", "CureParams", "judge", "rate_of"]

_HAIR = 1e-9

WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    **LIMIT_WORDS,
    **LOGGED_WORDS,
    **INSIDE_WORDS,
    "cure.passed": "Load {load}: {minutes} min, worth {worth} min at {reference}.",
    "cure.passed_through": "Load {load}: {minutes} min, worth {worth_centre} min at {reference} in the middle "
    "and {worth} min at the face.",
    "cure.under": "Load {load}: {minutes} min are worth only {worth} min at {reference}, {least_minutes} min needed.",
    "cure.raw_core": "Load {load}: the face has {worth} min at {reference}, but the middle only {worth_centre} min; "
    "{least_minutes} min needed.",
    "cure.over": "Load {load}: {minutes} min are worth {worth} min at {reference}, at most {most_minutes} min allowed.",
    "cure.no_rheometer": "Load {load}: nobody said what t90 of this compound is.",
    "cure.note_ninety": "t90 is {t_ninety} min.",
    "limit.cure_times": "{limits} times t90 ({t_ninety} min) at {reference}",
    "limit.cure_minutes": "{limits} min worth at {reference}",
    "ask.ninety": "t90 of this mix (from the rheometer strip)?",
}


_REFERENCE = "the reference temperature with its unit: 160 C"
READS = (
    *limit_fields(
        "that the heat must or may be worth",
        "limits",
        Field(
            "unit",
            Unit(units=("min", "t90")),
            "Whether least and most are minutes at the reference temperature, or times t90.",
            "min",
            within="limits",
        ),
    ),
    Field(
        "reference",
        Degrees(_REFERENCE, range_=False),
        "The temperature at which minutes count as they are.",
        unit="C or F behind it",
        needed=True,
    ),
    Field(
        "energy",
        Amount("an activation energy above 0 in kJ/mol", above_zero=True),
        "Activation energy of the reaction; this or doubling.",
        unit="kJ/mol",
        keeps="energy_kj",
    ),
    Field(
        "doubling",
        Amount("degrees above 0", above_zero=True),
        "Degrees more that double the rate; this or energy.",
        unit="degrees of the temperature beside it",
    ),
    Field(
        "t90",
        Amount("minutes above 0", above_zero=True),
        "The t90 of the compound; this or curve.",
        unit="min",
        keeps="t90_min",
    ),
    Field(
        "curve",
        RheometerCurve(),
        "Rheometer curve of the compound, from which t90 follows.",
        unit="min and torque",
        longest=400,
    ),
    *INSIDE_FIELDS,
    GAP_FIELD,
)


@dataclass(frozen=True)
class CureParams:
    """Least and most in equivalent minutes or in times t90, how the rate grows, what is known of the part's inside."""

    limits: Limits
    reference: Limits
    energy_kj: Decimal | None = None
    doubling: Decimal | None = None
    t90_min: Decimal | None = None
    inside: InsideParams = field(default_factory=InsideParams)
    gap: Length = GAP
    # (minutes, torque) points of the compound's rheometer curve, from which t90 is computed
    curve: tuple[tuple[Decimal, Decimal], ...] = ()

    @property
    def t90_known(self) -> float | None:
        """t90 in minutes as the row says it, typed or computed from its curve."""
        if self.t90_min is not None:
            return float(self.t90_min)
        found = from_curve([(float(minutes), float(torque)) for minutes, torque in self.curve]) if self.curve else ""
        return found.t90_min if isinstance(found, Rheometer) else None

    @property
    def degree_c(self) -> float:
        """One degree of the reference's unit, as a difference in degrees C: 18 Fahrenheit degrees are 10."""
        return 5 / 9 if self.reference.unit == "F" else 1.0

    @property
    def by_t90(self) -> bool:
        """Whether the limits are multiples of t90."""
        return self.limits.unit == "t90"


def rate_of(params: CureParams) -> Rate:
    """How the reaction's rate grows, 1 at the reference temperature."""
    reference = as_celsius(params.reference.least or Decimal(0), params.reference.unit)
    if params.energy_kj is not None:
        return Arrhenius(float(params.energy_kj) * 1000, reference)
    degrees_c = params.doubling if params.doubling is not None else Decimal(10)
    return Doubling(float(degrees_c) * params.degree_c, reference)


def build(row: CheckCells, found: Mapping[str, Any]) -> CureParams | None:
    """Limits; one of energy and doubling; t90 by itself or by its curve."""
    limits = read_limits(row, found)
    energy, doubling, t90, curve = (found[name] for name in ("energy", "doubling", "t90", "curve"))
    if (energy is None) == (doubling is None) and not row.errors:
        row.wrong("doubling", "either this (degrees for twice the rate) or energy (kJ/mol), not both")
    if t90 is not None and curve:
        row.wrong("curve", "nothing, since t90 is given; or leave t90 empty")
    if limits is None or row.errors:
        return None
    kept = {one.keeps or one.name: found[one.name] for one in INSIDE_FIELDS}
    inside = InsideParams(**{**kept, "probe": found["probe"] or ""})
    fits_together(row, inside)
    return None if row.errors else CureParams(
        limits, found["reference"], energy, doubling, t90, inside, found["gap"], curve
    )  # fmt: skip


def questions(params: CureParams) -> tuple[Question, ...]:
    """The load's times, its log, and t90 of the mix where the limits hang on it."""
    if not params.by_t90:
        return log_questions()
    return (*log_questions(), Question(T90, "ask.ninety", "min", "number", "0", None, "step"))


def boxes(params: CureParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """Times and log; what it is worth is computed."""
    return (*log_boxes(), Box("t90", "min", 6), Box("Mix", "", 10))


def limit_words(params: CureParams) -> list[LimitWord]:
    """The limits in short."""
    limits = params.limits
    ends = f"{limits.low()} to {limits.high()}" if limits.low() and limits.high() else ""
    ends = ends or (f"{limits.low()} or more" if limits.low() else f"{limits.high()} or less")
    figures: dict[str, CheckFigure] = {
        "limits": ends,
        "reference": dump_degrees(params.reference),
        "t_ninety": _ninety(params),
    }
    words: list[LimitWord] = [("limit.cure_times" if params.by_t90 else "limit.cure_minutes", figures)]
    if params.inside.thickness_mm is not None:
        words.append(("limit.thickness", {"thickness": plain(params.inside.thickness_mm)}))
    return words


def _ninety(params: CureParams) -> str:
    """As it was typed; one that was computed rounded up, since a longer cure is asked by it."""
    if params.t90_min is not None:
        return plain(params.t90_min)
    return "?" if params.t90_known is None else degrees_shown(params.t90_known, up=True)


def _judge_load(params: CureParams, evidence: Evidence, load: LoadEvidence) -> CheckVerdict:
    asked = minutes_asked(params.limits, t90_of(params.t90_known, evidence, load))
    part, missing, known = part_judged(load, params.gap, (asked.least or 0) * 60 or None)
    if part is None:
        assert missing is not None
        return CheckVerdict("missing", missing.code, known)
    seen = seen_of(params.inside, load, part, params.degree_c, known)
    if isinstance(seen, str):
        return CheckVerdict("missing", seen, known)
    return _judge_seen(params, asked, part, seen, known, missing)


def _figures(params: CureParams, asked: MinutesAsked, part: Trace) -> dict[str, CheckFigure]:
    """The limits, and what the log shows of itself."""
    return {
        **params.limits.figures(),
        **asked.figures(),
        "reference": dump_degrees(params.reference),
        "minutes": degrees_shown(float(part.seconds[-1] - part.seconds[0]) / 60),
        "highest_c": degrees_shown(float(part.celsius.max()), 1, up=True),
    }


def _judge_seen(
    params: CureParams,
    asked: MinutesAsked,
    part: Trace,
    seen: PartHeat,
    known: dict[str, CheckFigure],
    missing: CheckVerdict | None,
) -> CheckVerdict:
    """The least in the middle, the most at the face; a gap in the log hurts only what is not proved without it."""
    rate = rate_of(params)
    face, hottest = worth(seen.face_least, rate), worth(seen.face_most, rate)
    centre = worth(seen.middle, rate) if seen.middle else None
    over = asked.most is not None and hottest > asked.most * (1 + _HAIR)
    figures = {**known, **_figures(params, asked, part), "worth": degrees_shown(hottest if over else face, up=over)}
    if centre is not None:
        figures["worth_centre"] = degrees_shown(centre)
    if asked.t90 is not None:
        notes_of(figures, "cure.note_ninety")
    if asked.least is None:
        return CheckVerdict("missing", "cure.no_rheometer", figures)
    if over:
        return CheckVerdict("failed", "cure.over", figures)
    short = _under(face, centre, asked.least * (1 - _HAIR))
    lacks = _lacking(asked, seen, missing, short)
    if lacks:
        return CheckVerdict("missing", lacks, figures)
    if short:
        return CheckVerdict("failed", short, figures)
    if missing is not None:
        # What nobody saw can take nothing away from what was seen.
        notes_of(figures, "logged.note_gap")
    return CheckVerdict("passed", "cure.passed" if centre is None else "cure.passed_through", figures)


def _lacking(asked: MinutesAsked, seen: PartHeat, missing: CheckVerdict | None, short: str) -> str:
    """The code of what was not seen and might still change the verdict; empty where nothing might."""
    if missing is not None and (short or asked.most is not None):
        return missing.code
    return "cure.face_unseen" if not short and asked.most is not None and not seen.face_seen else ""


def _under(face: float, centre: float | None, needed: float) -> str:
    """Where too little was reached; empty where it was not."""
    if face < needed:
        return "cure.under"
    return "cure.raw_core" if centre is not None and centre < needed else ""


def judge(params: CureParams, evidence: Evidence) -> Judged:
    """Every load by its own part of its log; pieces that no load holds are missing evidence."""
    return judged_by_load(evidence, lambda load: _judge_load(params, evidence, load))


def heat(params: CureParams) -> Heat:
    """The reference, what heat is worth against it, and how hot the middle of a part was."""
    scale = params.t90_known if params.by_t90 else 1.0
    least = float(params.limits.least or 0) * (scale or 0) * 60
    return Heat(
        params.reference,
        params.gap,
        rate_of(params),
        proves_s=least or None,
        asks_probe=not params.inside.probe,
        middle=lambda load: middle_of(params.inside, load, params.gap, params.degree_c),
    )


KIND: CheckKind[CureParams] = CheckKind(
    name="cure",
    order=50,
    title="Rubber cured",
    about="Each load is cured all through, and not too much, by what the heat of its temperature log is worth.",
    fields=READS,
    example={"least": "0.9", "most": "2.5", "unit": "t90", "reference": "160 C", "doubling": "10", "t90": "6.5"},
    scopes=("load",),
    needs={"times": "load", "log": "load", "core": "step", "readings": "step", "counts": "load"},
    build=build,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
    limits=lambda params: (Limited("worth", params.limits),),
    heat=heat,
    by_load=True,
)
