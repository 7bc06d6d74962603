"""A baker's oven for pages that show logs: bands are moulded (10) and baked (20) at 80 to 95 C for 30 min unbroken."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any
from uuid import UUID

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from sites.models import Site
from tests import cast
from tests import factory as f
from tests.globe import ok
from traveller.batches.actions.loads import end_load, start_load
from traveller.batches.actions.report import report
from traveller.batches.models import Attachment, Batch, Load, Step, Verdict

BAKE = f.CheckRow("bake", "soak", {"least": "30", "unit": "min", "temperature": "80-95 C", "gap": "2 min"}, "load")
SURFACE = f.CheckRow(
    "surface", "reading", {"name": "surface", "least": "80", "most": "95", "unit": "C", "plausible": "20-260"}
)
# 14:02 at the oven: the site keeps Chicago's time, in winter six hours behind Greenwich.
IN_AT = datetime(2026, 3, 3, 20, 2, tzinfo=UTC)


@dataclass
class Oven:
    """The site, its phone, and the loads that were baked."""

    site: Site
    bench: Site
    phone: Client
    batch: Batch
    reported: Any = field(default_factory=lambda: count(1))

    @property
    def step(self) -> Step:
        return self.batch.steps.get(number=20)

    def event_context(self, at: datetime) -> Any:
        return f.event_context(f"{self.batch.code} {next(self.reported)}", at=at, actor=f.operator(self.site))

    def bake(self, pieces: int = 60, *, minutes: int = 40, start: datetime = IN_AT, place: str = "Oven 1") -> Load:
        event_context = self.event_context(start)
        ok(start_load(event_context=event_context, step_id=self.step.pk, quantity=pieces, place=place))
        load = Load.objects.get(uid=event_context.uid)
        ok(end_load(event_context=self.event_context(start + timedelta(minutes=minutes)), load_id=load.pk))
        return Load.objects.get(uid=event_context.uid)

    def send(
        self,
        content: bytes,
        load: Load | None = None,
        *,
        name: str = "oven.csv",
        kind: str = "log",
        news: UUID | None = None,
    ) -> Any:
        """Post a file from the phone, and follow to what is said of it."""
        reported = {"news_id": str(news or f.uid(f"{self.batch.code} sent {next(self.reported)}")), "kind": kind}
        if load:
            reported["load"] = str(load.uid)
        file = SimpleUploadedFile(name, content)
        return self.phone.post(f"/here/step/{self.step.pk}/proof", {**reported, "file": file}, follow=True)

    def answer(self, **reported: str) -> Any:
        """Tap an answer on the page of the last file."""
        news = str(f.uid(f"{self.batch.code} answered {next(self.reported)}"))
        path = f"/here/proof/{Attachment.objects.latest('id').pk}"
        return self.phone.post(path, {"news_id": news, **reported}, follow=True)

    def verdict(self) -> tuple[str, str]:
        row = Verdict.objects.get(step=self.step, check_key="bake", load=None, latest=True)
        return row.outcome, row.code


def make_oven(
    name: str = "", *, site: Site | None = None, phone: Client | None = None, check: f.CheckRow = BAKE
) -> Oven:
    site = site or f.make_site(f"baker{name}", name=f"Baker{name}", timezone="America/Chicago")
    bench = f.make_bench(f"bench{name}", name="Own bench")
    part = f.make_part(f"BAND{name}")
    routing = f.make_routing(
        part,
        [f.Op(10, site, "mould", "make"), f.Op(20, site, "bake", checks=[check, SURFACE]), f.Op(30, bench, "pack")],
    )
    routing.operations.filter(number=20).update(work="curing")
    batch = f.make_batch(part, wanted=60, destination=bench, name=name)
    oven = Oven(site, bench, phone or cast.pass_client(site), batch)
    ok(
        report(
            event_context=oven.event_context(IN_AT - timedelta(hours=1)), step_id=batch.steps.get(number=10).pk, good=60
        )
    )
    oven.batch.refresh_from_db()
    return oven


def log(celsius: list[float], *, start: datetime = IN_AT, head: str = "time;oven (C)", style: str = "iso") -> bytes:
    """A reading a minute from `start`: with its zone, or as the site's clock shows it, day or month first."""
    rows = []
    for n, value in enumerate(celsius):
        at = start + timedelta(minutes=n)
        local = at - timedelta(hours=6)
        shown = {
            "iso": at.isoformat(), "day": f"{local:%d/%m/%Y %H:%M:%S}", "month": f"{local:%m/%d/%Y %H:%M:%S}",
            "minutes": str(n),
        }[style]  # fmt: skip
        rows.append(f"{shown};{value}")
    return "\r\n".join([head, *rows, ""]).encode()


def photo() -> bytes:
    """A picture whose EXIF says who held the camera."""
    exif = Image.Exif()
    exif[0x013B] = "Odalys Quickbasin"
    out = io.BytesIO()
    Image.new("RGB", (64, 48), "#e39a2d").save(out, "JPEG", exif=exif)
    return out.getvalue()
