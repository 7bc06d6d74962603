"""A moulder's floor for the operator's pages: a batch of amber globes, resin and inserts in stock, a bench that waits.

The moulder dries (10), moulds with two cavities (20), cools on a fixture of 24 (30), fits an insert (40) and tests
every piece in water (50); the bench frosts the globe (60). Limits are those of tests, not of a data sheet.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from html import unescape
from pathlib import Path
from typing import Any

from django.http import HttpResponseBase
from django.test import Client

from sites.models import Site
from tests import cast, factory
from tests.web.one_line import one_line
from traveller.batches.models import Batch, Load, Step
from traveller.journal.models import Event
from traveller.ledger.models import Account, Lot
from traveller.products.models import OperationKind, Part, PartKind

NOON = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)
PICTURE = Path(__file__).parents[3] / "fixtures" / "demo" / "pictures" / "globe-amber.png"
DRYING = factory.CheckRow("drying", "drying", {"least": "4", "unit": "h"}, scope="load", blocks="step")
COOLING = factory.CheckRow("cooling", "window", {"least": "15", "unit": "min"}, scope="load", blocks="sending")
WATER = factory.CheckRow("water", "every_piece", {"name": "water test"}, scope="piece", blocks="sending")
BORE = factory.CheckRow(
    "bore", "dimension", {"name": "bore", "nominal": "50.8", "tolerance": "0.127", "unit": "mm"}, "lot", "packing"
)


@dataclass
class Clock:
    """The time that the door reads, moved by hand."""

    now: datetime = NOON

    def __call__(self) -> datetime:
        return self.now

    def go(self, **lapse: float) -> None:
        self.now += timedelta(**lapse)


@dataclass
class Floor:
    """The shops, the batch and a phone at the moulder."""

    moulder: Site
    bench: Site
    part: Part
    resin: Part
    insert: Part
    resin_lot: Lot
    insert_lot: Lot
    batch: Batch
    phone: Client
    clock: Clock = field(default_factory=Clock)
    reported: int = 0

    def step(self, number: int, batch: Batch | None = None) -> Step:
        return Step.objects.get(batch=batch or self.batch, number=number)

    def lot(self, batch: Batch | None = None) -> Lot:
        lot = Batch.objects.get(pk=(batch or self.batch).pk).lot
        assert lot is not None
        return lot

    def at(self, site: Site, condition: str, step: int = 0, batch: Batch | None = None) -> int:
        rows = Account.objects.filter(lot=self.lot(batch), site=site, condition=condition, step=step)
        return sum(row.balance for row in rows)

    def post(
        self, path: str, typed: Mapping[str, object] | None = None, *, client: Client | None = None, **more: Any
    ) -> HttpResponseBase:
        """Send a form as its page would; each sending is news of its own unless `news_id` says otherwise."""
        self.reported += 1
        names: dict[str, Any] = {**(typed or {}), **{name.replace("__", ":"): value for name, value in more.items()}}
        if path.endswith("/done") or names.get("done") == "yes":
            # The page asks whether so few are all; here they are, unless a test says otherwise.
            names.setdefault("sure:is_that_all", "yes")
        news_id = names.pop("news_id", factory.uid(f"floor {self.reported}"))
        return (client or self.phone).post(path, {"news_id": str(news_id), **names})

    def path(self, number: int, tail: str, batch: Batch | None = None) -> str:
        return f"/here/step/{self.step(number, batch).pk}/{tail}"

    def count(
        self,
        number: int,
        good: object,
        typed: Mapping[str, object] | None = None,
        batch: Batch | None = None,
        **more: Any,
    ) -> HttpResponseBase:
        """A count with all its fields at once, as the second page sends it."""
        return self.post(self.path(number, "count", batch), {"stage": "rest", "good": good, **(typed or {})}, **more)

    def load(self, quantity: int, minutes: float, number: int = 30) -> Load:
        """A filling of the fixture, in and out."""
        moved(self.post(self.path(number, "load"), quantity=quantity))
        load = Load.objects.latest("id")
        self.clock.go(minutes=minutes)
        moved(self.post(f"/here/load/{load.pk}/out", {"sure:out_too_early": "yes"}))
        return Load.objects.get(pk=load.pk)

    def moulded(self, good: int = 240) -> None:
        """Dried for four hours, moulded, and waiting to be cooled."""
        moved(self.post(self.path(10, "load")))
        self.clock.go(hours=4)
        moved(self.post(f"/here/load/{Load.objects.latest('id').pk}/out"))
        moved(self.post(self.path(10, "done")))
        moved(self.post(self.path(20, "start")))
        moved(self.count(20, good, shots=good // 2 + 4, open_cavities=2))

    def tested(self, good: int = 48) -> None:
        """Through every step of the moulder, all good, and on the shelf."""
        self.moulded(good)
        while self.at(self.moulder, "in_process", 30):
            quantity = min(24, self.at(self.moulder, "in_process", 30))
            load = self.load(quantity, 15)
            moved(self.count(30, quantity, load=load.uid))
        for number in (30, 20):
            moved(self.post(self.path(number, "done")))
        moved(self.post(self.path(40, "measure"), r__bore__bore__0__0="50.8"))
        moved(self.count(40, good))
        moved(self.count(50, good, {"sure:same_again": "yes"}))

    def totes(self, typed: str, batch: Batch | None = None) -> dict[str, str]:
        """The form of tote labels with this typed for each place at the moulder's where pieces lie."""
        lot = (batch or self.batch).lot_id or Batch.objects.get(pk=(batch or self.batch).pk).lot_id
        rows = Account.objects.filter(lot=lot, site=self.moulder, balance__gt=0).exclude(condition="scrap")
        return {f"q:{row.pk}": typed for row in rows}

    def send_all(self, **more: Any) -> HttpResponseBase:
        """All that may go to the bench, as the page proposes it."""
        page: Any = self.phone.get("/here/send")
        rows = [row for row in page.context["rows"] if not row["blocked"]]
        fields = {row["field"]: row["value"] for row in rows}
        return self.post("/here/send", {"to": self.bench.pk, "method": "hand", **fields}, **more)


def moved(answer: HttpResponseBase) -> str:
    """Where the page led on to, which it must have done."""
    assert answer.status_code == 302, text_of(answer)
    return str(answer["Location"])


def text_of(answer: HttpResponseBase) -> str:
    """The words of a page, without its marks."""
    body = getattr(answer, "content", b"").decode()
    body = re.sub(r"<head>.*?</head>|<details class=\"(?:late|more)\".*?</details>", "", body, flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", body)).split())


def html_of(answer: HttpResponseBase) -> str:
    """The page, without the line breaks of its templates."""
    return one_line(getattr(answer, "content", b"").decode())


def field_of(answer: HttpResponseBase, name: str) -> str | None:
    """What stands in a field of the page, by its name; None when the page has no such field."""
    found = re.search(rf'<(?:input|textarea)[^>]*\bname="{re.escape(name)}"[^>]*>([^<]*)', html_of(answer))
    if found is None:
        return None
    value = re.search(r'\bvalue="([^"]*)"', found[0])
    return unescape(value[1] if value else found[1])


def events(kind: str | None = None) -> int:
    rows = Event.objects.all()
    return rows.filter(kind=kind).count() if kind else rows.count()


def make_floor(start: int = 500, zone: str = "UTC") -> Floor:
    """The batch is released; nothing was told of it yet."""
    moulder = factory.make_site("moulder", name="Moulder", timezone=zone)
    bench = factory.make_bench("bench", name="Own bench")
    picture = PICTURE.read_bytes()
    part = factory.make_part(
        "GLOBE-AM", name="Globe", variant="amber", colour="amber", swatch="#e39a2d", picture=picture,
        picture_type="image/png", picture_digest=sha256(picture).hexdigest(),
    )  # fmt: skip
    resin = factory.make_part("RESIN-AM", PartKind.MATERIAL, name="Polycarbonate resin", variant="amber", unit="GRM")
    insert = factory.make_part("INSERT", PartKind.BOUGHT, name="Insert")
    ops = [
        factory.Op(10, moulder, "dry the resin", OperationKind.PREPARE, checks=(DRYING,)),
        factory.Op(20, moulder, "mould", OperationKind.MAKE, cavities=2),
        factory.Op(30, moulder, "cool on the fixture", load_size=24, checks=(COOLING,)),
        factory.Op(40, moulder, "fit insert", checks=(BORE,)),
        factory.Op(50, moulder, "water test every piece", checks=(WATER,)),
        factory.Op(60, bench, "frost"),
    ]
    routing = factory.make_routing(part, ops)
    works = {10: "drying", 20: "moulding", 30: "cooling", 40: "fitting", 50: "leak_test"}
    for operation in routing.operations.all():
        operation.work = works.get(operation.number, "other")
        operation.instruction = "Every globe on its pin." if operation.number == 30 else ""
        operation.save()
    factory.make_bill(part, resin, per_thousand=58_200, step=20)
    factory.make_bill(part, insert, step=40)
    resin_lot = factory.make_stock(resin, moulder, 100_000)
    resin_lot.outside_number = "PC-77120"
    resin_lot.save()
    insert_lot = factory.make_stock(insert, moulder, 2_000)
    batch = factory.make_batch(part, wanted=start, start=start, destination=bench)
    phone = cast.pass_client(moulder)
    return Floor(moulder, bench, part, resin, insert, resin_lot, insert_lot, batch, phone)
