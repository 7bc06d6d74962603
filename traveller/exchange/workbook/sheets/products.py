"""The sheets of what is made and of what: parts and bills of material."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from traveller.exchange.workbook.canonical import written_per
from traveller.exchange.workbook.cells import (
    UNITS_KEPT,
    choice,
    matching,
    read_code,
    read_line,
    read_whole,
    unit,
)
from traveller.exchange.workbook.columns import (
    POSITIVE,
    SITE,
    per,
    step_or_pack,
    step_or_pack_out,
)
from traveller.exchange.workbook.stored import at, counted_in, part_at, site_at, with_others
from traveller.exchange.workbook.tables import Row, column, record_of_columns, sheet_of

__all__ = ["BILLS", "PARTS", "BillRow", "PartRow"]

_SWATCH = matching(r"#[0-9a-f]{6}", "is not a colour", "write # and six digits 0-9 a-f", str.lower)


@record_of_columns
class PartRow(Row):
    """A thing that is made, bought or used up."""

    part: str = column(
        read_code(),
        "The code by which all other sheets name the part; capitals and small letters are one code.",
        at("number"),
        "RESIN-AM",
    )
    name: str = column(
        read_line(80), "What it is called on pages and papers, without its variant.", at("name"), "Polycarbonate resin"
    )
    variant: str = column(
        read_line(40),
        "What tells it from its sisters of the same name; a check of the variant is compared with it.",
        at("variant"),
        "amber",
        default="",
    )
    colour: str = column(
        read_line(40), "Its colour in a word, for the eye.", at("colour"), "amber", default="", also=("color",)
    )
    swatch: str = column(
        _SWATCH, "The same colour as it is drawn on pages and labels.", at("swatch"), "#e39a2d", default=""
    )
    revision: str = column(read_line(16), "The issue of its drawing or artwork.", at("revision"), "B", default="A")
    kind: str = column(
        choice("made", "bought", "material"),
        "made has steps in the sheet routings; bought comes finished; material is used up by quantity.",
        at("kind"),
        "material",
    )
    unit: str = column(
        unit(*UNITS_KEPT),
        "The unit in which it is counted, always whole: it stays once there are lots of the part.",
        counted_in("unit", "unit"),
        "g",
        default="piece",
    )
    piece_mass_mg: int | None = column(
        read_whole(1, 2_000_000_000),
        "The net mass of one piece, without packaging: packing lists add it up.",
        at("piece_mass_mg"),
        "58200",
        default=None,
        unit="mg",
    )
    shelf_life_days: int | None = column(
        read_whole(1, 36_500),
        "How long a lot may be used, from the day it was made or received; empty is without end.",
        at("shelf_life_days"),
        "365",
        default=None,
        unit="calendar days",
    )
    supplier: str = column(
        SITE,
        "The site from which it is bought; for bought parts and material.",
        site_at("supplier"),
        "resins",
        default="",
    )
    picture: str = column(
        read_line(),
        "The name of a picture file that lies beside the sheets (PNG or JPEG).",
        with_others("picture_digest"),
        "pictures/resin.png",
        default="",
    )


@record_of_columns
class BillRow(Row):
    """One component of one part: `quantity` of `unit` for every `per` pieces made."""

    part: str = column(
        read_code(), "The part that is made; it is of kind made.", with_others("routing.part.number"), "GLOBE-AM"
    )
    component: str = column(read_code(), "The part that goes into it.", part_at("component"), "RESIN-AM")
    quantity: Decimal = column(
        POSITIVE,
        "How much of the component goes into as many pieces as the column per says.",
        with_others("per_thousand", lambda line: written_per(line.per_thousand)[0]),
        "61.5",
    )
    unit: str = column(
        unit(),
        "The unit of the quantity; it has to fit the unit of the component, of which a whole number has to come out "
        "per 1000 pieces.",
        counted_in("component.unit"),
        "kg",
        default="piece",
    )
    per: int = column(
        per,
        "For how many made pieces the quantity is: 1, or 1000 where one piece takes a part of a unit.",
        with_others("per_thousand", lambda line: written_per(line.per_thousand)[1]),
        "1000",
        default=1,
        unit="pieces made",
        takes="1 or 1000",
    )
    step: int | None = column(
        step_or_pack,
        "The step of the part that uses it up; pack for what is only added when a kit is packed (a box, a leaflet).",
        at("step", store=lambda step: step or 0, load=lambda number: number or None),
        "20",
        dump=step_or_pack_out,
        takes="a step's number, or the word pack",
    )


PARTS: Final = sheet_of("parts", "Everything that is made, bought or used up.", PartRow, ("part",), needed=True)
BILLS: Final = sheet_of("bills", "What goes into each made part.", BillRow, ("part", "component", "step"))
