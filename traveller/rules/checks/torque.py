"""Is every fastener tight enough, and none too tight? Its torque inside nominal and tolerance, on so many pieces.

Each fastener is read by itself and named: the lowest of four screws is not made up for by the other three. The limits
are compared in whatever unit was read, exactly: pound-force 4.4482216152605 N, inch 0.0254 m and kilogram-force
9.80665 N by definition (NIST SP 811, appendix B; the newton metre of ISO 80000-4; both from memory). A joint's nominal
comes from its drawing; 10 % of it as tolerance is common practice, with no source.
"""

from __future__ import annotations

import re
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
    ReadingEvidence,
    worst,
)
from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.fields import Amount, CellReader, Field, Phrase, Unit, Whole
from traveller.rules.checks.kind import CheckKind, Limited
from traveller.rules.checks.limits import TOLERANCE_WORDS, Limits, in_unit
from traveller.rules.checks.quantities import Quantity
from traveller.rules.checks.readings import NAME_MOST, where

__all__ = ["KIND", "TORQUE", "WORDS", "TorqueParams", "judge"]

_FASTENERS_MOST = 40
_MANY = re.compile(r"(\d{1,3})(?:\s*[x×]\s*(.+))?", re.IGNORECASE)
_POUND_FORCE_N, _KILOGRAM_FORCE_N, _INCH_M = Fraction("4.4482216152605"), Fraction("9.80665"), Fraction("0.0254")

TORQUE = Quantity(
    "torque",
    {
        "N m": Fraction(1),
        "cN m": Fraction(1, 100),
        "lbf in": _POUND_FORCE_N * _INCH_M,
        "lbf ft": _POUND_FORCE_N * _INCH_M * 12,
        "kgf cm": _KILOGRAM_FORCE_N / 100,
    },
    spellings={
        **dict.fromkeys(("in lbf", "lb in", "in lb"), "lbf in"),
        **dict.fromkeys(("ft lbf", "lb ft", "ft lb"), "lbf ft"),
        **dict.fromkeys(("cm kgf", "kg cm"), "kgf cm"),
    },
    systems={
        **dict.fromkeys(("N m", "cN m", "kgf cm"), "metric"),
        **dict.fromkeys(("lbf in", "lbf ft"), "inch_pound"),
    },
    others={
        "N m": ("lbf in", 1),
        "cN m": ("lbf in", 3),
        "kgf cm": ("lbf in", 2),
        "lbf in": ("N m", 3),
        "lbf ft": ("N m", 2),
    },
)

WORDS: Mapping[str, str] = {
    **LOAD_WORDS,
    **TOLERANCE_WORDS,
    "torque.passed": "{name}: {found} fasteners read, from {lowest} to {highest}; {low} to {high} {unit} allowed.",
    "torque.low": "{fastener}: {value} {value_unit} is too low; {low} to {high} {unit} allowed. "
    "Outside: {outside} of {found}.",
    "torque.high": "{fastener}: {value} {value_unit} is too high; {low} to {high} {unit} allowed. "
    "Outside: {outside} of {found}.",
    "torque.piece_low": "{fastener} of piece {piece}: {value} {value_unit} is too low; {low} to {high} {unit} allowed. "
    "Outside: {outside} of {found}.",
    "torque.piece_high": "{fastener} of piece {piece}: {value} {value_unit} is too high; "
    "{low} to {high} {unit} allowed. Outside: {outside} of {found}.",
    "torque.unit": "{name}: {value_unit} was read where {unit} is asked for.",
    "torque.not_a_number": "{name}: {value} is not a number.",
    "torque.too_few": "{fastener}: read on {found} of {wanted} pieces.",
    "limit.fasteners": "each of {fasteners} fasteners",
    "ask.torque": "{name}?",
}
_SIDES: Mapping[tuple[str, bool], str] = {
    ("below", False): "torque.low",
    ("above", False): "torque.high",
    ("below", True): "torque.piece_low",
    ("above", True): "torque.piece_high",
}


@dataclass(frozen=True)
class _Fasteners(CellReader[str]):
    """How many (4), how many of one name (4 x M3), or names with semicolons between them (left; right)."""

    wanted: str = "how many, or their names: 4, or 4 x M3, or left; right"

    def _read(self, row: CheckCells, column: str, unit: str) -> str | None:
        found = row.text(column)
        names = _names(found)
        if not names or len(names) > _FASTENERS_MOST or len(set(names)) < len(names):
            row.wrong(column, self.wanted)
            return None
        return found


def _names(cell: str) -> tuple[str, ...]:
    """Each fastener's name, in the order in which they are read; the only one there is needs none."""
    found: list[str] = []
    for part in filter(None, (part.strip() for part in cell.split(";"))):
        many = _MANY.fullmatch(part)
        if many is None:
            found.append(part)
            continue
        count, name = int(many[1]), many[2] or "fastener"
        found += [f"{name} {number}" for number in range(1, count + 1)]
    return ("",) if found == ["fastener 1"] else tuple(found)


READS = (
    Field("name", Phrase(), "What is tightened.", "torque"),
    Field("nominal", Amount(above_zero=True), "The torque that it should have.", unit="as in unit", needed=True),
    Field(
        "tolerance",
        Amount("a number above 0 ({unit})", above_zero=True),
        "How far it may be off, to either side.",
        unit="as in unit",
        needed=True,
    ),
    Field("unit", Unit(quantity=TORQUE), "In which unit nominal and tolerance are.", needed=True),
    Field("fasteners", _Fasteners(), "How many fasteners each piece has, or their names.", "1", longest=200),
    Field("inspected", Whole(), "How many pieces are read; they stay in the batch.", "1"),
)


@dataclass(frozen=True)
class TorqueParams:
    """What is tightened, its nominal and tolerance, which fasteners on how many pieces; by column."""

    name: str
    nominal: Decimal
    tolerance: Decimal
    unit: str
    fasteners: str = "1"
    inspected: int = 1

    @property
    def limits(self) -> Limits:
        """The limits in the check's own unit, exact."""
        return Limits(self.nominal - self.tolerance, self.nominal + self.tolerance, self.unit)

    @property
    def readings(self) -> tuple[str, ...]:
        """The name of each fastener's readings."""
        return tuple(f"{self.name} {fastener}".strip() for fastener in _names(self.fasteners))


def build(row: CheckCells, found: Mapping[str, Any]) -> TorqueParams | None:
    """A tolerance leaves some torque; a reading's name has room for the fastener's."""
    if row.errors:
        return None
    params = TorqueParams(**found)
    if params.tolerance >= params.nominal:
        row.wrong("tolerance", f"less than the nominal, {plain(params.nominal)} {params.unit}")
    if any(len(name) > NAME_MOST for name in params.readings):
        row.wrong("fasteners", f"names that together with {params.name} are at most {NAME_MOST} characters long")
    return params


def questions(params: TorqueParams) -> tuple[Question, ...]:
    """Each fastener's torque, on each piece."""
    low, high = params.limits.low(), params.limits.high()
    each: Literal["step", "piece"] = "step" if params.inspected == 1 else "piece"
    count = params.inspected
    return tuple(
        Question(name, "ask.torque", params.unit, "number", low, high, each, count) for name in params.readings
    )


def boxes(params: TorqueParams, cavities: Sequence[int] = ()) -> tuple[Box, ...]:
    """A box for each fastener, piece by piece."""
    if params.inspected == 1:
        return tuple(Box(name, params.unit, 7) for name in params.readings)
    numbers = range(1, params.inspected + 1)
    return tuple(Box(f"{name} piece {number}", params.unit, 7) for number in numbers for name in params.readings)


def _figures(params: TorqueParams) -> dict[str, CheckFigure]:
    limits = params.limits
    return {
        "name": params.name,
        "nominal": plain(params.nominal),
        "tolerance": plain(params.tolerance),
        "unit": params.unit,
        "low": limits.low() or "",
        "high": limits.high() or "",
    }


def limit_words(params: TorqueParams) -> list[LimitWord]:
    """Nominal, tolerance, limits; which fasteners on how many pieces."""
    many = len(params.readings)
    words: list[LimitWord] = [("limit.tolerance", _figures(params))]
    if many > 1:
        words.append(("limit.fasteners", {"fasteners": many}))
    return [*words, ("limit.piece" if params.inspected == 1 else "limit.pieces", {"pieces": params.inspected})]


def charted(params: TorqueParams) -> Limited:
    """All fasteners as one series, around the nominal."""
    return Limited(params.name, params.limits, params.readings, params.nominal)


def _unread(params: TorqueParams, reading: ReadingEvidence) -> CheckVerdict | None:
    """What is missing of a reading that says no torque; None for one that does."""
    figures = {**_figures(params), "name": reading.name, "value_unit": reading.unit or params.unit}
    if reading.number is None:
        said = reading.text.strip() or str(reading.value)
        return CheckVerdict("missing", "torque.not_a_number", {**figures, "value": said})
    if in_unit(reading.number, reading.unit, params.unit) is None:
        return CheckVerdict("missing", "torque.unit", figures)
    return None


def _exact(params: TorqueParams, reading: ReadingEvidence) -> Fraction:
    return in_unit(reading.value, reading.unit, params.unit) or Fraction(0)


def _shown(params: TorqueParams, reading: ReadingEvidence) -> str:
    return f"{plain(reading.value)} {reading.unit or params.unit}"


def _outside(params: TorqueParams, read: Sequence[ReadingEvidence]) -> CheckVerdict | None:
    """The fastener that is farthest off, and how many are; None where all are inside."""
    wrong = [one for one in read if params.limits.side(_exact(params, one)) != "inside"]
    if not wrong:
        return None
    one = max(wrong, key=lambda reading: abs(_exact(params, reading) - Fraction(params.nominal)))
    side = params.limits.side(_exact(params, one))
    figures: dict[str, CheckFigure] = {
        **_figures(params),
        **where(one),
        "fastener": one.name,
        "value": plain(one.value),
        "value_unit": one.unit or params.unit,
        "outside": len(wrong),
        "found": len(read),
    }
    return CheckVerdict("failed", _SIDES[side, one.piece is not None], figures)


def _too_few(params: TorqueParams, read: Sequence[ReadingEvidence]) -> CheckVerdict | None:
    """The first fastener that was read on too few pieces; one piece read twice is one piece."""
    for name in params.readings:
        own = [one for one in read if one.name == name]
        places = {(one.load, one.cavity, one.piece) for one in own if one.piece is not None}
        found = len(places) + sum(1 for one in own if one.piece is None)
        if found < params.inspected:
            figures = {**_figures(params), "fastener": name, "found": found, "wanted": params.inspected}
            return CheckVerdict("missing", "torque.too_few", figures)
    return None


def judge(params: TorqueParams, evidence: Evidence) -> Judged:
    """Every fastener of every piece inside the limits, and each read on enough pieces."""
    reported = [one for name in params.readings for one in evidence.named(name)]
    unread = [(one, _unread(params, one)) for one in reported]
    read = [one for one, missing in unread if missing is None]
    found = worst(
        verdict
        for verdict in (_outside(params, read), *(missing for _, missing in unread), _too_few(params, read))
        if verdict is not None
    )
    if found is not None:
        return Judged(found)
    ordered = sorted(read, key=lambda one: _exact(params, one))
    ends = {"lowest": _shown(params, ordered[0]), "highest": _shown(params, ordered[-1])}
    return Judged(CheckVerdict("passed", "torque.passed", {**_figures(params), **ends, "found": len(read)}))


KIND: CheckKind[TorqueParams] = CheckKind(
    name="torque",
    order=75,
    title="Tightening torque",
    about="Every fastener of so many pieces was tightened to a torque within its tolerance.",
    fields=READS,
    example={
        "name": "lid",
        "nominal": "0.6",
        "tolerance": "0.06",
        "unit": "N m",
        "fasteners": "4 x M3",
        "inspected": "5",
    },
    scopes=("lot", "step", "load", "piece"),
    needs={"readings": "piece"},
    build=build,
    questions=questions,
    boxes=boxes,
    limit_words=limit_words,
    judge_evidence=judge,
    words=WORDS,
    limits=lambda params: (charted(params),),
    charted=charted,
)
