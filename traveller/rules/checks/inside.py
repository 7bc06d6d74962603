"""How hot were the surface and the middle of a part? By where the probe of the load's log was, and what is known of it.

In a part, no model is needed. On a surface or in the face of a mould, the middle follows by conduction; from a platen
only with the difference to the mould that was measured. The air of an oven is not the part: how well it heats this
part has to be known, from a log inside a part of a full charge, or as a figure with its source. Without it nothing is
said of the inside, and what to send is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Final, Literal

import numpy as np

from traveller.rules.checks.base import CheckFigure, CoreEvidence, LoadEvidence
from traveller.rules.checks.columns import CheckCells, plain
from traveller.rules.checks.degrees import Length, as_celsius, degrees_shown
from traveller.rules.checks.fields import Amount, Degrees, Field, OneOf, Phrase
from traveller.rules.checks.kind import Computed
from traveller.rules.checks.limits import Limits
from traveller.rules.checks.logged import GAP, gap_allowed, notes_of
from traveller.rules.checks.probe import PROBE, note_of, probe_of
from traveller.rules.cure import Rate, equivalent_minutes
from traveller.rules.logs.found import Log
from traveller.rules.slab import Body, Shape, heated_through
from traveller.rules.soak import Trace, part_of, trace
from traveller.rules.transfer import Transfer, Untold, biot_of, transfer_of

__all__ = [
    "INSIDE_FIELDS",
    "INSIDE_WORDS",
    "InsideParams",
    "PartHeat",
    "fits_together",
    "middle_of",
    "seen_of",
    "worth",
]

_START_C = Limits(Decimal(25), None, "C")
# Rubber compounds lie about 0.1 mm2/s and 0.15 to 0.3 W/(m K) (from memory); the compound's own figures override them.
_DIFFUSIVITY: Final = Decimal("0.1")
_CONDUCTIVITY: Final = Decimal("0.25")

INSIDE_WORDS: Mapping[str, str] = {
    "cure.no_platen": "Load {load}: the probe was in the platen, and how much cooler the face of the mould is was not "
    "measured. Measure it once and write it into the check (platen), or send a log from the face of the mould.",
    "cure.no_thickness": "Load {load}: the log is of the air, and how thick a part is is not known. Write it into the "
    "check (thickness), or send a log from inside a part.",
    "cure.no_transfer": "Load {load}: the log is of the air, and how well this oven heats these parts is not known. "
    "Send one log from inside a part of a full charge in this oven, or write the figure with its source into the check "
    "(transfer, figures).",
    "cure.core_smaller": "Load {load}: it held {pieces} pieces, the log from inside a part was of a charge of "
    "{core_pieces}. Send one of a charge as full as this.",
    "cure.core_too_few": "Load {load}: {core_name} has too few readings beside those of the air to tell how well the "
    "oven heats. Send another log from inside a part of a full charge.",
    "cure.core_does_not_fit": "Load {load}: {core_name} is not what a part of {thickness} mm would show in that air. "
    "Is the probe in its middle, and are thickness and diffusivity right?",
    "cure.core_cannot_tell": "Load {load}: {core_name} follows the air too closely, or rises too little, to tell how "
    "well the oven heats. Log from room temperature on, in a thick place, every minute.",
    "cure.face_unseen": "Load {load}: cured in the middle; how much the surface had was not seen by a probe inside, "
    "and at most {most_minutes} min are allowed. Send a log of the surface too.",
    "cure.note_conduction": "The middle follows from it by conduction: {thickness} mm, {diffusivity} mm²/s.",
    "cure.note_platen": "The face of the mould is taken {platen_c} °C cooler, as measured.",
    "cure.note_core": "Surface and middle follow from the air: h = {h} W/m²K ({h_least} to {h_most}), taken from "
    "{core_name}, a log from inside a part of {core_pieces} pieces ({apart_c} °C from what was computed).",
    "cure.note_figure": "Surface and middle follow from the air: h = {h} W/m²K ({h_source}).",
    "limit.thickness": "all through {thickness} mm",
}

_CORE: Final[Mapping[str, str]] = {
    "smaller": "cure.core_smaller",
    "too_few": "cure.core_too_few",
    "does_not_fit": "cure.core_does_not_fit",
    "cannot_tell": "cure.core_cannot_tell",
}

INSIDE_FIELDS = (
    Field(
        "thickness",
        Amount("millimetres above 0", above_zero=True),
        "Thickness of a part (of a round one its diameter) whose middle is judged too.",
        unit="mm",
        within="inside",
        keeps="thickness_mm",
    ),
    Field(
        "shape",
        OneOf(words=("plate", "cylinder")),
        "Whether the part is flat or round where it is thickest.",
        "plate",
        within="inside",
    ),
    Field(
        "diffusivity",
        Amount("mm2/s above 0", above_zero=True),
        "Thermal diffusivity of the compound; 0.1 for rubber is from memory, with no source.",
        plain(_DIFFUSIVITY),
        unit="mm2/s",
        within="inside",
        keeps="diffusivity_mm2_s",
    ),
    Field(
        "conductivity",
        Amount("W/(m K) above 0", above_zero=True),
        "Thermal conductivity of the compound; 0.25 for rubber is from memory, with no source.",
        plain(_CONDUCTIVITY),
        unit="W/(m K)",
        within="inside",
        keeps="conductivity_w_m_k",
    ),
    replace(PROBE, within="inside"),
    Field(
        "platen",
        Amount("degrees, 0 or more", least=Decimal(0)),
        "How much cooler the face of the mould is than the platen, as it was measured.",
        unit="degrees of the temperature beside it",
        within="inside",
    ),
    Field(
        "transfer",
        Amount("W/(m2 K) above 0", above_zero=True),
        "Heat transfer from the oven's air to the part; a log from inside a part goes before it.",
        unit="W/(m2 K)",
        within="inside",
        keeps="transfer_w_m2_k",
    ),
    Field("figures", Phrase(), "Where the figure of the heat transfer comes from.", within="inside", longest=120),
    Field(
        "start",
        Degrees("the temperature at which it goes in: 25 C", range_=False),
        "How warm the part goes in.",
        "25 C",
        unit="C or F behind it",
        within="inside",
    ),
)


@dataclass(frozen=True)
class InsideParams:
    """A part as heat sees it, where the probe of its log is, and how well the air of its oven heats it."""

    thickness_mm: Decimal | None = None
    shape: Shape = "plate"
    diffusivity_mm2_s: Decimal = _DIFFUSIVITY
    conductivity_w_m_k: Decimal = _CONDUCTIVITY
    probe: str = ""
    platen: Decimal | None = None
    transfer_w_m2_k: Decimal | None = None
    figures: str = ""
    start: Limits = _START_C

    @property
    def start_c(self) -> float:
        """How warm it goes in."""
        return as_celsius(self.start.least or Decimal(0), self.start.unit)

    def body(self, biot: float = np.inf) -> Body:
        """The part, whose thickness is known."""
        assert self.thickness_mm is not None
        return Body(float(self.thickness_mm), float(self.diffusivity_mm2_s), biot, self.shape)

    def heated(self, h: float) -> Body:
        """The part in air that carries so much heat to it."""
        return self.body(biot_of(h, float(self.conductivity_w_m_k), float(self.thickness_mm or 0)))


def fits_together(row: CheckCells, inside: InsideParams) -> None:
    """Names in the row what does not fit together: a figure without its source, or of a probe that is elsewhere."""
    if inside.transfer_w_m2_k is not None and not inside.figures:
        row.wrong("figures", "where the heat transfer comes from: a data sheet, a measurement with its day")
    if inside.transfer_w_m2_k is not None and inside.thickness_mm is None:
        row.wrong("thickness", "the thickness of a part, since its heat transfer is given")
    if inside.platen is not None and inside.probe not in ("", "platen"):
        row.wrong("platen", "nothing, since the probe is not in the platen")


@dataclass(frozen=True)
class PartHeat:
    """Temperatures of a load in stretches without a gap: of the face at the least and at the most, and in the middle.

    `middle` is empty where a part is too thin to have one. `face_seen`: a limit of the face can be held against it.
    """

    face_least: list[Trace] = field(default_factory=list)
    face_most: list[Trace] = field(default_factory=list)
    middle: list[Trace] = field(default_factory=list)
    face_seen: bool = True


def worth(parts: list[Trace], rate: Rate) -> float:
    """Equivalent minutes of all stretches."""
    return sum(equivalent_minutes(part.seconds, part.celsius, rate) for part in parts)


def seen_of(
    inside: InsideParams, load: LoadEvidence, part: Trace, degree_c: float, figures: dict[str, CheckFigure]
) -> PartHeat | str:
    """What the log of a load says of its parts, or the code of what is missing; fills in the figures and the notes.

    After a gap a part is taken to be as cold as it went in: what was seen is never worth less than that. `degree_c` is
    one degree of the check's unit in degrees C.
    """
    assert load.log is not None
    probe = probe_of(load.log, inside.probe)
    if probe is None:
        return "logged.no_probe"
    notes_of(figures, note_of(probe))
    parts = list(_stretches(part))
    if inside.thickness_mm is not None:
        figures["thickness"] = plain(inside.thickness_mm)
    if probe == "air":
        return _from_air(inside, load, parts, figures)
    if probe == "part":
        return PartHeat(parts, parts, parts if inside.thickness_mm is not None else [], inside.thickness_mm is None)
    if probe == "platen":
        if inside.platen is None:
            return "cure.no_platen"
        cooler = float(inside.platen) * degree_c
        figures["platen_c"] = degrees_shown(cooler, up=True)
        notes_of(figures, "cure.note_platen")
        parts = [replace(one, celsius=one.celsius - cooler) for one in parts]
    if inside.thickness_mm is None:
        return PartHeat(parts, parts)
    figures["diffusivity"] = plain(inside.diffusivity_mm2_s)
    notes_of(figures, "cure.note_conduction")
    return PartHeat(parts, parts, [_within(inside.body(), one, inside.start_c)[0] for one in parts])


def _stretches(part: Trace) -> Iterator[Trace]:
    """The pieces of a trace between its gaps; one reading alone lasts no time."""
    for rows in np.split(np.arange(part.seconds.size), np.flatnonzero(~part.live) + 1):
        if rows.size:
            yield Trace(part.seconds[rows], part.celsius[rows], part.gap_s)


def _within(body: Body, part: Trace, start_c: float) -> tuple[Trace, Trace]:
    """Middle and face of a body in surroundings that follow a stretch of a log."""
    times, centre, face = heated_through(body, part.seconds, part.celsius, start_c=start_c)
    return Trace(times, centre, part.gap_s), Trace(times, face, part.gap_s)


def _from_air(
    inside: InsideParams, load: LoadEvidence, parts: list[Trace], figures: dict[str, CheckFigure]
) -> PartHeat | str:
    if inside.thickness_mm is None:
        return "cure.no_thickness"
    found = _transfer(inside, load, figures)
    if isinstance(found, str):
        return found
    slow, quick = ([_within(inside.heated(h), one, inside.start_c) for one in parts] for h in (found.least, found.most))
    return PartHeat([face for _, face in slow], [face for _, face in quick], [middle for middle, _ in slow])


def _transfer(inside: InsideParams, load: LoadEvidence, figures: dict[str, CheckFigure]) -> Transfer | str:
    """By the log from inside a part, where there is one of a charge as full; else as the check says with its source."""
    core = load.core
    lacking = "cure.no_transfer"
    if core is not None:
        figures |= {"core_name": core.name, "core_pieces": core.pieces, "pieces": load.quantity}
        fitted: Transfer | Untold | Literal["smaller"]
        fitted = "smaller" if core.pieces < load.quantity else _fitted(inside, core)
        if isinstance(fitted, Transfer):
            shown = {"h": fitted.h, "h_least": fitted.least, "h_most": fitted.most}
            figures |= {name: f"{figure:.3g}" for name, figure in shown.items()}
            figures["apart_c"] = degrees_shown(fitted.apart_c, 1, up=True)
            notes_of(figures, "cure.note_core")
            return fitted
        lacking = _CORE[fitted]
    if inside.transfer_w_m2_k is None:
        return lacking
    h = float(inside.transfer_w_m2_k)
    figures |= {"h": plain(inside.transfer_w_m2_k), "h_source": inside.figures}
    notes_of(figures, "cure.note_figure")
    return Transfer(h, h, h)


def _fitted(inside: InsideParams, core: CoreEvidence) -> Transfer | Untold:
    """The figure by the middle that was measured and the air at the same time, within the load's own times."""
    start, end = core.started_at.timestamp(), core.ended_at.timestamp()
    in_part = part_of(trace(core.core.times, core.core.celsius, _allowed(core.core)), start, end)
    around = part_of(trace(core.air.times, core.air.celsius, _allowed(core.air)), start, end)
    if in_part is None or around is None or in_part.gaps or around.gaps:
        return "too_few"
    # All moments of both, so that no turn of the air is cut off.
    seconds = np.union1d(in_part.seconds, around.seconds)
    seconds = seconds[(seconds >= in_part.seconds[0]) & (seconds <= in_part.seconds[-1])]
    seconds = seconds[(seconds >= around.seconds[0]) & (seconds <= around.seconds[-1])]
    air, middle = (np.interp(seconds, one.seconds, one.celsius) for one in (around, in_part))
    return transfer_of(inside.body(), float(inside.conductivity_w_m_k), seconds, air, middle)


def _allowed(log: Log) -> float:
    return gap_allowed(log, GAP, None)


def middle_of(inside: InsideParams, load: LoadEvidence, gap: Length, degree_c: float) -> Computed | None:
    """How hot it was in the middle during a load, for the picture beside the log; None where it is not computed."""
    if load.log is None or load.started_at is None or load.ended_at is None or inside.thickness_mm is None:
        return None
    if probe_of(load.log, inside.probe) in (None, "part"):
        return None
    whole = trace(load.log.times, load.log.celsius, gap_allowed(load.log, gap, None))
    part = part_of(whole, load.started_at.timestamp(), load.ended_at.timestamp())
    if part is None:
        return None
    figures: dict[str, CheckFigure] = {"load": load.number}
    found = seen_of(inside, load, part, degree_c, figures)
    if isinstance(found, str):
        return None
    notes = figures.get("notes", [])
    assert isinstance(notes, list)
    seconds, celsius = (
        np.concatenate(columns) for columns in zip(*((m.seconds, m.celsius) for m in found.middle), strict=True)
    )
    return Computed(seconds, celsius, tuple(notes), figures)
