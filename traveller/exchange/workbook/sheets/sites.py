"""The sheets of places: sites, the lanes between them, the days on which they are shut, and their people."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Final

from sites.people import written
from traveller.exchange.workbook.cells import choice, matching, read_line, read_lines, read_whole, zone
from traveller.exchange.workbook.columns import PERCENT, SITE, shifts
from traveller.exchange.workbook.dates import to_date
from traveller.exchange.workbook.stored import at, percentage, site_at
from traveller.exchange.workbook.tables import Row, column, record_of_columns, sheet_of

__all__ = ["CLOSURES", "LANES_SHEET", "PEOPLE", "SITES", "ClosureRow", "LaneRow", "PersonRow", "SiteRow"]

_LANGUAGE = matching(r"[a-z]{2}", "is not a language", "write two letters: en, es", str.lower)
_COUNTRY = matching(r"[A-Z]{2}", "is not a country", "write two letters: US, MX, GB", str.upper)
_KIND = choice("own", "subcontractor", "supplier")


@record_of_columns
class SiteRow(Row):
    """A place where work is done, or from where things are bought."""

    site: str = column(SITE, "The short code by which all other sheets name the site.", at("code"), "moulder")
    name: str = column(read_line(80), "The site's name on pages and papers.", at("name"), "Ridgeback Moulding")
    kind: str = column(
        _KIND,
        "own is a bench of yours, where you assemble and pack (one at least); a subcontractor works on your goods; "
        "from a supplier you only buy.",
        at("kind"),
        "subcontractor",
    )
    timezone: str = column(
        zone,
        "The time zone in which the site's times are shown and its days begin and end.",
        at("timezone"),
        "America/Chicago",
        takes="a name of the public time zone database",
        also=("time_zone",),
    )
    language: str = column(
        _LANGUAGE, "The language of the site's phone pages and papers.", at("language"), "es", default="en"
    )
    country: str = column(
        _COUNTRY,
        "The country of the address, by its code (ISO 3166-1).",
        at("country"),
        "US",
        default="",
    )
    address: str = column(
        read_lines(), "Where goods are sent to, as it is printed.", at("address"), "400 Press Street", default=""
    )
    phone: str = column(
        read_line(40), "The number on papers, for whoever finds goods.", at("phone"), "+1 260 555 0124", default=""
    )
    contact: str = column(read_line(80), "Whom to ask for at the site.", at("contact"), "Dale Okafor", default="")
    paper: str = column(
        choice("A4", "Letter"), "The size of paper in the site's printer.", at("paper"), "Letter", default="A4"
    )
    turnaround_days: int = column(
        read_whole(0, 365),
        "How long a batch usually stays at the site, waiting included: due dates are counted back with it, and a batch "
        "that stays longer is shown as silent.",
        at("turnaround_days"),
        "5",
        default=3,
        unit="working days of the site",
    )
    shifts: str = column(
        shifts,
        "The days and hours at which the site works.",
        at("shifts"),
        "Mo-Fr 06:00-22:00",
        default="Mo-Fr 08:00-16:30",
        takes="days and hours, several after commas: Mo-Fr 08:00-16:30, Sa 08:00-12:00",
    )


@record_of_columns
class LaneRow(Row):
    """The way from one site to another."""

    from_site: str = column(SITE, "The site that sends.", site_at("origin"), "moulder", name="from")
    to_site: str = column(SITE, "The site that receives.", site_at("destination"), "bench", name="to")
    transit_days: int = column(
        read_whole(0, 365),
        "How long goods are on the road; 0 arrives the same day. Two steps at sites without a lane are planned with 1.",
        at("transit_days"),
        "2",
        unit="working days",
    )
    carrier: str = column(read_line(80), "Who carries the goods.", at("carrier"), "Longhaul Parcel", default="")
    over_percent: Decimal | None = column(
        PERCENT,
        "How much more than a batch was started for is taken on arrival; what is beyond is split off and held. "
        "Empty takes any quantity.",
        percentage("over_ppm"),
        "10",
        default=None,
        unit="% of the batch's start quantity",
    )


@record_of_columns
class ClosureRow(Row):
    """Days on which a site is shut, both ends included."""

    site: str = column(SITE, "The site that is shut.", site_at("site"), "moulder")
    first_day: dt.date = column(to_date, "The first day on which it is shut.", at("first_day"), "2026-02-16")
    # Filled with the first day where the cell is blank, before anybody else looks at it.
    last_day: dt.date = column(
        to_date,
        "The last day on which it is shut, itself included; empty is the first day alone.",
        at("last_day"),
        "2026-02-17",
        default=None,
    )
    name: str = column(read_line(80), "Why: the holiday, or what else.", at("name"), "Presidents Day", default="")


@record_of_columns
class PersonRow(Row):
    """Someone who reports from a site."""

    site: str = column(SITE, "The site at which the person works.", site_at("site"), "moulder")
    name: str = column(
        read_line(80),
        "The name that a phone of the site offers; however it is typed, one spelling is one person.",
        at("name", store=lambda name: written(name) or name),
        "Dale Okafor",
    )
    initials: str = column(read_line(8), "The initials on papers.", at("initials"), "DO")


SITES: Final = sheet_of(
    "sites", "Your own bench, the shops that work for you, and the suppliers.", SiteRow, ("site",), needed=True
)
LANES_SHEET: Final = sheet_of(
    "lanes", "How long goods travel from one site to another.", LaneRow, ("from_site", "to_site")
)
CLOSURES: Final = sheet_of("closures", "Days on which a site is shut.", ClosureRow, ("site", "first_day", "last_day"))
PEOPLE: Final = sheet_of("people", "Who reports from a site.", PersonRow, ("site", "name"))
