"""The look on two pages with invented data, for tests and for eyes. Not shipped."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string
from django.test import RequestFactory

from traveller.web.pictures.kit_rule import Bar, KitRule, kit_rule
from traveller.web.pictures.line_graph import LineEvent, LineGraph, Point, Silence, Trip, line_graph
from traveller.web.pictures.ribbon import Ribbon, RibbonStep, yield_ribbon
from traveller.web.tables import CodeColumn, MomentColumn, NumberColumn, PaperTable, TableColumn

NOW = datetime(2026, 11, 24, 10, 40, tzinfo=UTC)


def day(number: float) -> datetime:
    """Return a moment so many days after Monday 9 November 2026."""
    return datetime(2026, 11, 9, tzinfo=UTC) + timedelta(number)


def graph() -> LineGraph:
    """Return a lantern order's batches: a hold, a part sent ahead, scrap, a silence, a forecast."""
    globe = Trip(
        "g", "Globe, amber 1,088, of them 1,006 good",
        (Point(day(0.4), 0, 1088), Point(day(5.2), 0, 1006), Point(day(6.6), 0, 1006), Point(day(7.5), 3, 1006)),
        scraps=(LineEvent(day(5.2), 0, "scrap 82"),), short="Globe",
    )  # fmt: skip
    band = Trip(
        "b", "Bands, plain then printed, 1,060",
        (Point(day(1.2), 1, 1060), Point(day(8.3), 1, 1060), Point(day(9.6), 2, 1060), Point(day(14), 2, 650)),
        forecast=(Point(day(17.4), 2, 630), Point(day(18.4), 3, 630)),
        holds=(LineEvent(day(12.1), 2, "210 held: oven log"),), silences=(Silence(day(14.3), NOW),),
    )  # fmt: skip
    ahead = Trip("a", "410 bands sent ahead", (Point(day(13.6), 2, 410), Point(day(14.5), 3, 410)), branch_of="b")
    feet = Trip(
        "f", "Feet 1,050", (Point(day(3), 1, 1050), Point(day(9.2), 1, 1050), Point(day(10.6), 3, 1050)), short="Feet"
    )
    lantern = Trip(
        "l", "Assemble", (), forecast=(Point(day(18.5), 3, 1000), Point(day(21.2), 3, 1000), Point(day(21.6), 4, 1000))
    )
    closed = frozenset(date(2026, 11, 14) + timedelta(n + w * 7) for w in range(3) for n in range(2))
    return LineGraph(
        ("Moulder", "Rubber shop", "Printer", "Own bench", "Customer"), (globe, band, ahead, feet, lantern), NOW,
        "Order 1042: globes and feet are at the own bench; 210 bands are held at the printer.",
        promise=day(18.7), heard=("2 hours ago", "yesterday", "26 hours ago", "4 minutes ago", ""), closed=closed,
    )  # fmt: skip


def rule() -> KitRule:
    """Return a lantern's components."""
    bars = (
        Bar("Globe, amber", (("here", 1006),)),
        Bar("Foot", (("here", 3150),), per_kit=3),
        Bar("Band, printed", (("here", 410), ("one", 420), ("held", 210)), note="limits"),
        Bar("Light puck", (("here", 700), ("road", 500)), note="next"),
        Bar("Carton", (("here", 4500),)),
        Bar("Leaflet", (("here", 980), ("held", 12))),
    )
    return KitRule(bars, 410, "410 amber lanterns can be assembled now; printed bands limit.", wanted=1000)


def ribbon() -> Ribbon:
    """Return a batch's account step by step."""
    return Ribbon(
        (
            RibbonStep("Mould", 1132, 1098, (("scrap", 34),)),
            RibbonStep("Deburr", 1098, 1092, (("scrap", 6),)),
            RibbonStep("Water test", 1092, 1048, (("rework", 24), ("scrap", 20))),
            RibbonStep("Print, colour 1", 1048, 640, (("here", 390), ("scrap", 18))),
            RibbonStep("Print, colour 2", 640, 420, (("held", 210), ("unexplained", 10))),
        ),
        "Of 1,132 moulded, 420 are printed and good; 390 wait, 210 are held, 78 are scrap.",
    )


class BatchTable(PaperTable):
    """Every batch, as the founder's first page lists them."""

    batch = CodeColumn()
    what = TableColumn()
    where = TableColumn(verbose_name="Where it is")
    good = NumberColumn()
    since = MomentColumn(verbose_name="Here since")
    then = TableColumn()


NAMES = ("batch", "what", "where", "good", "since", "then")
ROWS: list[dict[str, Any]] = [
    dict(zip(NAMES, row, strict=True))
    for row in (
        ("7K3-M9Q-4", "Band, printed amber", "Printer · second colour, oven", 420, day(9.6), "to own bench"),
        ("2HV-0TB-R", "Globe, amber", "Own bench · in stock", 1006, day(7.5), "assembly"),
        ("9PD-41X-C", "Foot", "Own bench · in stock", 1050, day(10.6), "assembly"),
    )
]


def founder_page() -> str:
    """Return the founder's side of the look."""
    table = BatchTable(ROWS, order_by="-good")
    short, by = "210 held: oven log ends 6 min short of the bake.", "M. L., printer"
    late = "told 3 hours later"
    news = [
        {"at": day(12.1), "words": short, "by": by, "kind": "stop"},
        {"at": day(11.2), "words": "Sent ahead: 410.", "by": "by phone", "late": late, "kind": "road"},
        {"at": day(10.4), "words": "First colour: 1,060 good.", "by": by, "struck": True},
        {"at": day(9.6), "words": "Counted on arrival: 1,060.", "by": by},
    ]
    heard = [
        {"site": "Moulder", "when": NOW - timedelta(hours=2), "overdue": False},
        {"site": "Printer", "when": NOW - timedelta(hours=26), "overdue": True},
        {"site": "Rubber shop", "when": None, "overdue": False},
    ]
    context = {
        "now": NOW, "section": "home", "table": table, "news": news, "heard": heard,
        "line": line_graph(graph()), "line_narrow": line_graph(graph(), 340, "linen"),
        "kit": kit_rule(rule()), "kit_narrow": kit_rule(rule(), 340, "kitn"),
        "ribbon": yield_ribbon(ribbon(), 1120), "ribbon_narrow": yield_ribbon(ribbon(), 340, "ribbonn"),
    }  # fmt: skip
    return render_to_string("gallery/founder.html", context, request=RequestFactory().get("/"))


def phone_page() -> str:
    """Return the operator's side of the look: the count of a load."""
    context = {"start": NOW - timedelta(minutes=15, seconds=42), "now": NOW, "code_value": "2HV-0TB-R"}
    return render_to_string("gallery/phone.html", context, request=RequestFactory().get("/here/"))


def templates() -> list[dict[str, Any]]:
    """Return the settings' templates with the gallery's own folder added."""
    return [{**settings.TEMPLATES[0], "DIRS": [Path(__file__).parent / "templates"]}]
