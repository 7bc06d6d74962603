"""Is it in tolerance? n pieces, from every open cavity where asked, each inside nominal and tolerance.

The inch is 25.4 mm exactly (NIST SP 811, appendix B; 16 CFR 500.19). A reading is held against
the drawing's own limits, exactly, in whatever unit it was taken; only what is shown of them in the other unit is
rounded, toward the nominal. Plus-minus 0.005 inch (0.127 mm) for a part whose function dies beyond it is common
practice, with no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
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
    ReadingEvidence,
    worst,
)
from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.fields import Amount, Field, Phrase, Ticked, Unit, Whole
from traveller.rules.checks.kind import CheckKind, Limited
from traveller.rules.checks.limits import TOLERANCE_WORDS, Limits, in_unit
from traveller.rules.checks.quantities import LENGTH
from traveller.rules.checks.readings import judge_values
from traveller.rules.units import UnitError, limits_inward

__all__ = ["KIND", "WORDS", "DimensionParams", "judge", "limits_in"]

READS = (
    Field("name", Phrase(), "What is measured.", "dimension"),
    Field("nominal", Amount(), "What it should be.", unit="as in unit", needed=True),
    Field(
        "tolerance",
        Amount("a number above 0 ({unit})", above_zero=True),
        "How far it may be off, to either side.",
        unit="as in unit",
        needed=True,
    ),
    Field("unit", Unit(quantity=LENGTH), "In which unit nominal and tolerance are.", needed=True),
    Field("inspected", Whole(), "How many pieces are measured; they stay in the batch.", "1"),
    Field("every_cavity", Ticked(), "Whether so many are measured from every open cavity.", default="no"),
)

WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    **TOLERANCE_WORDS,
    "dimension.passed": "{name}: {found} measured, all inside {low} to {high} {unit}.",
    "dimension.below": "{name}: {value} {value_unit} measured, {least} to {most} {unit} allowed.",
    "dimension.above": "{name}: {value} {value_unit} measured, {least} to {most} {unit} allowed.",
    "dimension.unit": "{name}: {value_unit} was measured where {unit} is asked for.",
    "dimension.not_a_number": "{name}: {value} is not a number.",
    "dimension.too_few": "{name}: {found} of {wanted} pieces measured.",
    "dimension.cavity_too_few": "{name}: cavity {cavity} has {found} of {wanted} pieces measured.",
    "dimension.cavities_unknown": "{name}: nobody said which cavities are open.",
    "limit.pieces_each_cavity": "{pieces} pieces from every open cavity",
    "limit.piece_each_cavity": "one piece from every open cavity",
    "ask.dimension": "{name}?",
}


@dataclass(frozen=True)
class DimensionParams:
    """What is measured, its nominal and tolerance, on how many pieces; by column."""

    name: str
    nominal: Decimal
    tolerance: Decimal
    unit: str
    inspected: int = 1
    every_cavity: bool = False

    @property
    def limits(self) -> Limits:
        """The limits in the drawing's own unit, exact."""
        return Limits(self.nominal - self.tolerance, self.nominal + self.tolerance, self.unit)


def build(row: CheckCells, found: Mapping[str, Any]) -> DimensionParams | None:
    """What is measured, where nothing is wrong with it."""
    return None if row.errors else DimensionParams(**found)


def limits_in(params: DimensionParams, unit: str, decimals: int = 0) -> Limits | None:
    """The limits as they are shown in mm or in, rounded toward the nominal; None for any other unit.

    Nothing is judged by them. One decimal more than the drawing makes inches exact in mm; four more the other way
    round are a tenth of a thousandth of an inch. With the decimals of a reading that failed, it lies outside them.
    """
    wanted = unit.strip().casefold() or params.unit
    if wanted not in LENGTH.units:
        return None
    places = max(0, *(-int(number.as_tuple().exponent) for number in (params.nominal, params.tolerance)))
    more = 0 if wanted == params.unit else 1 if wanted == "mm" else 4
    found = limits_inward(params.nominal, params.tolerance, params.unit, wanted, max(places + more, decimals))
    return None if isinstance(found, UnitError) else Limits(found[0], found[1], wanted)


def questions(params: DimensionParams) -> tuple[Question, ...]:
    """Each piece's value, from each open cavity where asked."""
    low, high = params.limits.low(), params.limits.high()
    each: Literal["cavity", "piece"] = "cavity" if params.every_cavity else "piece"
    return (Question(params.name, "ask.dimension", params.unit, "number", low, high, each, params.inspected),)


def boxes(params: DimensionParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """A box for each piece, grouped by cavity where every cavity is measured."""
    numbers = range(1, params.inspected + 1)
    if params.every_cavity and cavities:
        return tuple(
            Box(f"{params.name} cavity {cavity}{f' piece {number}' if params.inspected > 1 else ''}", params.unit, 8)
            for cavity in cavities
            for number in numbers
        )
    return tuple(Box(f"{params.name} piece {number}", params.unit, 8) for number in numbers)


def _figures(params: DimensionParams) -> dict[str, CheckFigure]:
    limits = params.limits
    return {
        "name": params.name,
        "nominal": plain(params.nominal),
        "tolerance": plain(params.tolerance),
        "unit": params.unit,
        "low": limits.low() or "",
        "high": limits.high() or "",
    }


def limit_words(params: DimensionParams) -> list[LimitWord]:
    """Nominal, tolerance, limits; then how many pieces."""
    if params.every_cavity:
        many = "limit.piece_each_cavity" if params.inspected == 1 else "limit.pieces_each_cavity"
    else:
        many = "limit.piece" if params.inspected == 1 else "limit.pieces"
    return [("limit.tolerance", _figures(params)), (many, {"pieces": params.inspected})]


def _pieces(readings: Sequence[ReadingEvidence]) -> int:
    """How many pieces were measured: one piece measured twice is one piece."""
    reported = {(reading.cavity, reading.piece) for reading in readings if reading.piece is not None}
    return len(reported) + sum(1 for reading in readings if reading.piece is None)


def _too_few(params: DimensionParams, evidence: Evidence, readings: Sequence[ReadingEvidence]) -> CheckVerdict | None:
    figures = {**_figures(params), "wanted": params.inspected}
    if not params.every_cavity:
        found = _pieces(readings)
        if found >= params.inspected:
            return None
        return CheckVerdict("missing", "dimension.too_few", {**figures, "found": found})
    if not evidence.open_cavities:
        return CheckVerdict("missing", "dimension.cavities_unknown", figures)
    by_cavity = Counter(dict.fromkeys(evidence.open_cavities, 0))
    for cavity in by_cavity:
        by_cavity[cavity] = _pieces([reading for reading in readings if reading.cavity == cavity])
    cavity, found = min(by_cavity.items(), key=lambda pair: (pair[1], pair[0]))
    if found >= params.inspected:
        return None
    return CheckVerdict("missing", "dimension.cavity_too_few", {**figures, "cavity": cavity, "found": found})


def judge(params: DimensionParams, evidence: Evidence) -> Judged:
    """Every measured value inside the drawing's own limits, exactly, in whatever unit; and enough pieces measured."""
    readings = evidence.named(params.name)
    verdict = judge_values("dimension", params.limits, readings)
    fitting = [one for one in readings if in_unit(Decimal(0), one.unit, params.unit) is not None]
    few = _too_few(params, evidence, fitting)
    found = worst([*([_said(params, verdict)] if verdict else []), *([few] if few else [])])
    if found is None:
        found = CheckVerdict("passed", "dimension.passed", {**_figures(params), "found": _pieces(fitting)})
    return Judged(found)


def _said(params: DimensionParams, verdict: CheckVerdict) -> CheckVerdict:
    """The verdict with its limits in the unit that was read, where that is one of the two of a drawing."""
    figures: dict[str, CheckFigure] = {"name": params.name, **verdict.figures}
    if verdict.outcome == "failed":
        decimals = len(str(figures["value"]).partition(".")[2])
        shown = limits_in(params, str(figures["value_unit"]), decimals)
        figures |= shown.figures() if shown else {}
    return CheckVerdict(verdict.outcome, verdict.code, figures)


def charted(params: DimensionParams) -> Limited:
    """What is measured, around its nominal."""
    return Limited(params.name, params.limits, (params.name,), params.nominal)


KIND: CheckKind[DimensionParams] = CheckKind(
    name="dimension",
    order=70,
    title="Dimension",
    about="A length measured on so many pieces lies within its tolerance.",
    fields=READS,
    example={
        "name": "bore",
        "nominal": "25.4",
        "tolerance": "0.127",
        "unit": "mm",
        "inspected": "3",
        "every_cavity": "yes",
    },
    scopes=("lot", "step", "load", "piece"),
    needs={"readings": "cavity"},
    build=build,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
    limits=lambda params: (charted(params),),
    charted=charted,
)
