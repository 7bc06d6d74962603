"""Which sheets a workbook has, and what each column takes. The one place to add a column."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from traveller.exchange.workbook import rows
from traveller.exchange.workbook.cells import (
    UNITS_KEPT,
    choice,
    matching,
    read_code,
    read_decimal,
    read_line,
    read_lines,
    read_lot,
    read_whole,
    read_words,
    slug,
    unit,
    zone,
)
from traveller.exchange.workbook.columns import (
    COUNT,
    PARAMETERS,
    PERCENT,
    POSITIVE,
    SITE,
    STEP,
    Column,
    Sheet,
    per,
    percent_of,
    shifts,
    step_or_pack,
    step_or_pack_out,
    words_out,
)
from traveller.exchange.workbook.dates import to_date

OPERATIONS: Final = (
    "drying", "moulding", "cooling", "fitting", "deburring", "leak_test", "mixing", "extruding", "curing",
    "printing", "baking", "assembly", "packing", "other",
)  # fmt: skip

SITES: Final = Sheet(
    "sites",
    rows.SiteRow,
    (
        Column("site", SITE, needed=True),
        Column("name", read_line(80), needed=True),
        Column("kind", choice("own", "subcontractor", "supplier"), needed=True),
        Column("timezone", zone, needed=True, also=("time_zone",)),
        Column(
            "language", matching(r"[a-z]{2}", "is not a language", "write two letters: en, es", str.lower), default="en"
        ),
        Column("country", matching(r"[A-Z]{2}", "is not a country", "write two letters: US, MX, GB", str.upper)),
        Column("address", read_lines()),
        Column("phone", read_line(40)),
        Column("contact", read_line(80)),
        Column("paper", choice("A4", "Letter"), default="A4"),
        Column("turnaround_days", read_whole(0, 365), default=3),
        Column("shifts", shifts, default="Mo-Fr 08:00-16:30"),
    ),
    ("site",),
    needed=True,
)
LANES_SHEET: Final = Sheet(
    "lanes",
    rows.LaneRow,
    (
        Column("from", SITE, needed=True, field="from_site"),
        Column("to", SITE, needed=True, field="to_site"),
        Column("transit_days", read_whole(0, 365), needed=True),
        Column("carrier", read_line(80)),
        Column("over_percent", PERCENT, default=None),
    ),
    ("from_site", "to_site"),
)
CLOSURES: Final = Sheet(
    "closures",
    rows.ClosureRow,
    (
        Column("site", SITE, needed=True),
        Column("first_day", to_date, needed=True),
        Column("last_day", to_date, default=None),
        Column("name", read_line(80)),
    ),
    ("site", "first_day", "last_day"),
    dates=("first_day", "last_day"),
)
PEOPLE: Final = Sheet(
    "people",
    rows.PersonRow,
    (
        Column("site", SITE, needed=True),
        Column("name", read_line(80), needed=True),
        Column("initials", read_line(8), needed=True),
    ),
    ("site", "name"),
)
PARTS: Final = Sheet(
    "parts",
    rows.PartRow,
    (
        Column("part", read_code(), needed=True),
        Column("name", read_line(80), needed=True),
        Column("variant", read_line(40)),
        Column("colour", read_line(40), also=("color",)),
        Column("swatch", matching(r"#[0-9a-f]{6}", "is not a colour", "write # and six digits 0-9 a-f", str.lower)),
        Column("revision", read_line(16), default="A"),
        Column("kind", choice("made", "bought", "material"), needed=True),
        Column("unit", unit(*UNITS_KEPT), default="piece"),
        Column("piece_mass_mg", read_whole(1, 2_000_000_000), default=None),
        Column("shelf_life_days", read_whole(1, 36_500), default=None),
        Column("supplier", SITE),
        Column("picture", read_line()),
    ),
    ("part",),
    needed=True,
)
BILLS: Final = Sheet(
    "bills",
    rows.BillRow,
    (
        Column("part", read_code(), needed=True),
        Column("component", read_code(), needed=True),
        Column("quantity", POSITIVE, needed=True),
        Column("unit", unit(), default="piece"),
        Column("per", per, default=1),
        Column("step", step_or_pack, needed=True, dump=step_or_pack_out),
    ),
    ("part", "component", "step"),
)
ROUTINGS: Final = Sheet(
    "routings",
    rows.RoutingRow,
    (
        Column("part", read_code(), needed=True),
        Column("step", STEP, needed=True),
        Column("site", SITE, needed=True),
        Column("verb", read_line(60), needed=True),
        Column("kind", choice("prepare", "make", "work"), needed=True),
        Column("operation", choice(*OPERATIONS), default="other"),
        Column("yield_percent", percent_of(read_decimal(most=Decimal(100), above=Decimal(0))), default=Decimal(100)),
        Column("samples", read_whole(0, 100_000), default=0),
        Column("cavities", read_whole(0, 512), default=0),
        Column("load_size", read_whole(0, 1_000_000), default=0),
        Column("startup_shots", read_whole(0, 100_000), default=0),
        Column("tool", read_line(60)),
        Column("cycle_seconds", read_whole(0, 1_000_000), default=0),
        Column("setup_minutes", read_whole(0, 100_000), default=0),
        Column("instruction", read_lines(300)),
        Column("scrap_reasons", read_words, default=(), dump=words_out),
    ),
    ("part", "step"),
    needed=True,
)
CHECKS: Final = Sheet(
    "checks",
    rows.CheckRow,
    (
        Column("part", read_code(), needed=True),
        Column("step", STEP, needed=True),
        Column("check", slug(32), needed=True),
        Column("kind", read_line(24), needed=True),
        Column("scope", choice("load", "step", "lot", "piece"), needed=True),
        Column("blocks", choice("step", "sending", "consuming", "packing", "nothing"), needed=True),
        Column("source", read_line()),
    ),
    ("part", "step", "check"),
    parameters=PARAMETERS,
)
ORDERS: Final = Sheet(
    "orders",
    rows.OrderRow,
    (
        Column("order", read_code(), needed=True),
        Column("customer", read_line(120), needed=True),
        Column("ship_to", read_lines()),
        Column("placed", to_date, needed=True),
        Column("line", read_whole(1, 9_999), default=1),
        Column("part", read_code(), needed=True),
        Column("quantity", COUNT, needed=True),
        Column("due", to_date, needed=True),
        Column("over_percent", PERCENT, default=Decimal(0)),
        Column("under_percent", PERCENT, default=Decimal(0)),
    ),
    ("order", "line"),
    dates=("placed", "due"),
)
STOCK: Final = Sheet(
    "stock",
    rows.StockRow,
    (
        Column("part", read_code(), needed=True),
        Column("lot", read_lot, needed=True),
        Column("site", SITE, needed=True),
        Column("quantity", POSITIVE, needed=True),
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
        Column("reference", read_code(), needed=True),
        Column("part", read_code(), needed=True),
        Column("order", read_code()),
        Column("line", read_whole(1, 9_999), default=None),
        Column("step", STEP, needed=True),
        Column("site", SITE),
        Column("good", COUNT, needed=True),
        Column("started_on", to_date, needed=True),
    ),
    ("reference", "step"),
    dates=("started_on",),
)
SHEETS: Final[Mapping[str, Sheet]] = {
    sheet.name: sheet
    for sheet in (SITES, LANES_SHEET, CLOSURES, PEOPLE, PARTS, BILLS, ROUTINGS, CHECKS, ORDERS, STOCK, BATCHES)
}
