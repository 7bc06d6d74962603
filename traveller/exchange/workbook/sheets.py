"""Which sheets a workbook has, and what each column takes. The one place to add a column."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from traveller.exchange.workbook import rows
from traveller.exchange.workbook.cells import (
    BASE_UNITS,
    Parser,
    choice,
    code,
    decimal,
    dump_words,
    line,
    lines,
    lot,
    matching,
    slug,
    unit,
    whole,
    words,
    yes_no,
    zone,
)
from traveller.exchange.workbook.dates import to_date
from traveller.exchange.workbook.numbers import BadCell
from traveller.exchange.workbook.raw import DecimalMark, Raw
from traveller.rules.checks import COLUMNS as PARAMETER_COLUMNS
from traveller.rules.shifts import ShiftError, parse_shifts

OPERATIONS: Final = (
    "drying", "moulding", "cooling", "fitting", "deburring", "leak_test", "mixing", "extruding", "curing",
    "printing", "baking", "assembly", "packing", "other",
)  # fmt: skip
PACK: Final = "pack"
Saved = str | int | Decimal | dt.date | None


@dataclass(frozen=True, slots=True)
class Column:
    """One column: `field` is the record's attribute, `default` stands for a blank cell when it is not needed."""

    name: str
    parse: Parser
    needed: bool = False
    default: object = ""
    field: str = ""
    also: tuple[str, ...] = ()
    dump: Callable[[object], Saved] | None = None

    @property
    def attribute(self) -> str:
        return self.field or self.name


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet: its record, its columns in order, and the columns by which a row is known."""

    name: str
    record: Callable[..., rows.Row]
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    needed: bool = False
    parameters: tuple[Column, ...] = ()
    dates: tuple[str, ...] = ()

    @property
    def all_columns(self) -> tuple[Column, ...]:
        """The columns as they are written out; a check's parameters stand before its source."""
        return (*self.columns[:-1], *self.parameters, self.columns[-1]) if self.parameters else self.columns


_SHIFT_FAULTS: Final = {
    "no_times": "names days without their times",
    "overlap": "has shifts that overlap",
}


def _shifts(cell: Raw, mark: DecimalMark) -> str:
    text = str(line()(cell, mark))
    found = parse_shifts(text)
    if isinstance(found, ShiftError):
        raise BadCell(_SHIFT_FAULTS.get(found.why, "is not a list of shifts"), "write for example Mo-Fr 08:00-16:30")
    return text


def _step_or_pack(cell: Raw, mark: DecimalMark) -> int | None:
    if isinstance(cell, str) and cell.strip().casefold() in {PACK, "packing"}:
        return None
    try:
        step = _STEP(cell, mark)
    except BadCell:
        raise BadCell("is neither a step nor pack", "write the step's number, such as 20, or pack") from None
    assert isinstance(step, int)
    return step


def _per(cell: Raw, mark: DecimalMark) -> int:
    found = whole()(cell, mark)
    if found not in (1, 1000):
        raise BadCell("is neither 1 nor 1000", "write 1, or 1000 for a quantity per thousand pieces")
    assert isinstance(found, int)
    return found


def _percent(parse: Parser) -> Parser:
    """Percentages are kept as whole parts per million, so four decimals is all there is."""

    def exact(cell: Raw, mark: DecimalMark) -> Decimal:
        found = parse(cell, mark)
        assert isinstance(found, Decimal)
        if found * 10_000 % 1:
            raise BadCell("has more than 4 decimals", "round it")
        return found

    return exact


def _as_parameter(parse: Parser) -> Parser:
    """A check's parameter is kept as text: its kind in the rules says what it means."""

    def as_text(cell: Raw, mark: DecimalMark) -> str:
        value = parse(cell, mark)
        if isinstance(value, bool):
            return "yes" if value else "no"
        return format(value, "f") if isinstance(value, Decimal) else str(value)

    return as_text


# What the rules do not read as a number stays as it was typed ("75-88 C").
_PARAMETERS: Final[Mapping[str, Parser]] = {
    "least": _as_parameter(decimal()),
    "most": _as_parameter(decimal()),
    "nominal": _as_parameter(decimal()),
    "tolerance": _as_parameter(decimal()),
    "moisture": _as_parameter(decimal()),
    "pieces": _as_parameter(whole(1, 100_000)),
    "every_cavity": _as_parameter(yes_no),
}
_SITE = slug(24)
_STEP = whole(1, 9_990)
_PERCENT = _percent(decimal(Decimal(0), Decimal(100)))
_COUNT = whole(1, 10_000_000)
_POSITIVE = decimal(above=Decimal(0))


def _step_or_pack_out(value: object) -> Saved:
    return PACK if value is None else int(str(value))


def _number_out(value: object) -> Saved:
    """A parameter's text as the number that it is: "3.125" as text could be read in two ways."""
    text = str(value)
    return Decimal(text) if text[:1].isdecimal() or text[:1] == "-" else text


def _words_out(value: object) -> Saved:
    assert isinstance(value, tuple)
    return dump_words(value)


SITES: Final = Sheet(
    "sites",
    rows.SiteRow,
    (
        Column("site", _SITE, needed=True),
        Column("name", line(80), needed=True),
        Column("kind", choice("own", "subcontractor", "supplier"), needed=True),
        Column("timezone", zone, needed=True, also=("time_zone",)),
        Column(
            "language", matching(r"[a-z]{2}", "is not a language", "write two letters: en, es", str.lower), default="en"
        ),
        Column("country", matching(r"[A-Z]{2}", "is not a country", "write two letters: US, MX, GB", str.upper)),
        Column("address", lines()),
        Column("phone", line(40)),
        Column("contact", line(80)),
        Column("paper", choice("A4", "Letter"), default="A4"),
        Column("turnaround_days", whole(0, 365), default=3),
        Column("shifts", _shifts, default="Mo-Fr 08:00-16:30"),
    ),
    ("site",),
    needed=True,
)
LANES: Final = Sheet(
    "lanes",
    rows.LaneRow,
    (
        Column("from", _SITE, needed=True, field="from_site"),
        Column("to", _SITE, needed=True, field="to_site"),
        Column("transit_days", whole(0, 365), needed=True),
        Column("carrier", line(80)),
    ),
    ("from_site", "to_site"),
)
CLOSURES: Final = Sheet(
    "closures",
    rows.ClosureRow,
    (
        Column("site", _SITE, needed=True),
        Column("first_day", to_date, needed=True),
        Column("last_day", to_date, default=None),
        Column("name", line(80)),
    ),
    ("site", "first_day", "last_day"),
    dates=("first_day", "last_day"),
)
PEOPLE: Final = Sheet(
    "people",
    rows.PersonRow,
    (
        Column("site", _SITE, needed=True),
        Column("name", line(80), needed=True),
        Column("initials", line(8), needed=True),
    ),
    ("site", "name"),
)
PARTS: Final = Sheet(
    "parts",
    rows.PartRow,
    (
        Column("part", code(), needed=True),
        Column("name", line(80), needed=True),
        Column("variant", line(40)),
        Column("colour", line(40), also=("color",)),
        Column("swatch", matching(r"#[0-9a-f]{6}", "is not a colour", "write # and six digits 0-9 a-f", str.lower)),
        Column("revision", line(16), default="A"),
        Column("kind", choice("made", "bought", "material"), needed=True),
        Column("unit", unit(*BASE_UNITS), default="piece"),
        Column("piece_mass_mg", whole(1, 2_000_000_000), default=None),
        Column("shelf_life_days", whole(1, 36_500), default=None),
        Column("supplier", _SITE),
        Column("picture", line()),
    ),
    ("part",),
    needed=True,
)
BILLS: Final = Sheet(
    "bills",
    rows.BillRow,
    (
        Column("part", code(), needed=True),
        Column("component", code(), needed=True),
        Column("quantity", _POSITIVE, needed=True),
        Column("unit", unit(), default="piece"),
        Column("per", _per, default=1),
        Column("step", _step_or_pack, needed=True, dump=_step_or_pack_out),
    ),
    ("part", "component", "step"),
)
ROUTINGS: Final = Sheet(
    "routings",
    rows.RoutingRow,
    (
        Column("part", code(), needed=True),
        Column("step", _STEP, needed=True),
        Column("site", _SITE, needed=True),
        Column("verb", line(60), needed=True),
        Column("kind", choice("prepare", "make", "work"), needed=True),
        Column("operation", choice(*OPERATIONS), default="other"),
        Column("yield_percent", _percent(decimal(most=Decimal(100), above=Decimal(0))), default=Decimal(100)),
        Column("samples", whole(0, 100_000), default=0),
        Column("cavities", whole(0, 512), default=0),
        Column("load_size", whole(0, 1_000_000), default=0),
        Column("startup_shots", whole(0, 100_000), default=0),
        Column("tool", line(60)),
        Column("cycle_seconds", whole(0, 1_000_000), default=0),
        Column("setup_minutes", whole(0, 100_000), default=0),
        Column("instruction", lines(300)),
        Column("scrap_reasons", words, default=(), dump=_words_out),
    ),
    ("part", "step"),
    needed=True,
)
CHECKS: Final = Sheet(
    "checks",
    rows.CheckRow,
    (
        Column("part", code(), needed=True),
        Column("step", _STEP, needed=True),
        Column("check", slug(32), needed=True),
        Column("kind", line(24), needed=True),
        Column("scope", choice("load", "step", "lot", "piece"), needed=True),
        Column("blocks", choice("step", "sending", "consuming", "packing", "nothing"), needed=True),
        Column("source", line()),
    ),
    ("part", "step", "check"),
    parameters=tuple(
        Column(name, _PARAMETERS.get(name, line(40)), dump=_number_out if name in _PARAMETERS else None)
        for name in PARAMETER_COLUMNS
    ),
)
ORDERS: Final = Sheet(
    "orders",
    rows.OrderRow,
    (
        Column("order", code(), needed=True),
        Column("customer", line(120), needed=True),
        Column("ship_to", lines()),
        Column("placed", to_date, needed=True),
        Column("line", whole(1, 9_999), default=1),
        Column("part", code(), needed=True),
        Column("quantity", _COUNT, needed=True),
        Column("due", to_date, needed=True),
        Column("over_percent", _PERCENT, default=Decimal(0)),
        Column("under_percent", _PERCENT, default=Decimal(0)),
    ),
    ("order", "line"),
    dates=("placed", "due"),
)
STOCK: Final = Sheet(
    "stock",
    rows.StockRow,
    (
        Column("part", code(), needed=True),
        Column("lot", lot, needed=True),
        Column("site", _SITE, needed=True),
        Column("quantity", _POSITIVE, needed=True),
        Column("unit", unit(), default="piece"),
        Column("received", to_date, needed=True),
        Column("expires", to_date, default=None),
    ),
    ("part", "lot", "site"),
    dates=("received", "expires"),
)
BATCHES: Final = Sheet(
    "batches",
    rows.BatchRow,
    (
        Column("reference", code(), needed=True),
        Column("part", code(), needed=True),
        Column("order", code()),
        Column("line", whole(1, 9_999), default=None),
        Column("step", _STEP, needed=True),
        Column("site", _SITE),
        Column("good", _COUNT, needed=True),
        Column("started_on", to_date, needed=True),
    ),
    ("reference", "step"),
    dates=("started_on",),
)
SHEETS: Final[Mapping[str, Sheet]] = {
    sheet.name: sheet
    for sheet in (SITES, LANES, CLOSURES, PEOPLE, PARTS, BILLS, ROUTINGS, CHECKS, ORDERS, STOCK, BATCHES)
}
