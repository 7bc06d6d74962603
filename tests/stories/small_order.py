"""The demo workbook with order 1042 made small, as the zip that a founder would upload; and a clock moved by hand."""

from __future__ import annotations

import csv
import io
import zipfile
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from django.core.files.uploadedfile import SimpleUploadedFile

DEMO = Path(__file__).parents[2] / "fixtures" / "demo"
BENCH = ZoneInfo("America/New_York")
INDIANAPOLIS = ZoneInfo("America/Indiana/Indianapolis")
CHIHUAHUA = ZoneInfo("America/Chihuahua")
CUSTOMER = ("Blue Spruce", "Switchback Street", "Pine Notch")
ORDERED = 20
BANDS_UNDER_WAY = 30


@dataclass
class Clock:
    """The time that the door reads."""

    now: datetime

    def __call__(self) -> datetime:
        return self.now

    def day(self, day: int, clock: str) -> None:
        """On to a day of January 2026, at the bench's local time."""
        hour, minute = clock.split(":")
        then = datetime(2026, 1, day, int(hour), int(minute), tzinfo=BENCH)
        assert then > self.now, f"the story runs on: {then} after {self.now}"
        self.now = then

    def local(self, minutes: int, zone: ZoneInfo) -> str:
        """So many minutes ago, as a browser of that zone writes it."""
        return f"{(self.now - timedelta(minutes=minutes)).astimezone(zone):%Y-%m-%dT%H:%M}"


def zipped_workbook() -> SimpleUploadedFile:
    """fixtures/demo as one zip with its pictures, but 20 lanterns in order 1042 and 30 bands under way."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for path in sorted([*DEMO.glob("*.csv"), *DEMO.glob("pictures/*.png")]):
            archive.writestr(path.relative_to(DEMO).as_posix(), _content(path))
    return SimpleUploadedFile("lanterns.zip", out.getvalue(), content_type="application/zip")


def _content(path: Path) -> bytes:
    if path.name == "orders.csv":
        return _edited(path, "order", "1042", "quantity", str(ORDERED))
    if path.name == "batches.csv":
        return _edited(path, "reference", "RUN-88", "good", str(BANDS_UNDER_WAY))
    return path.read_bytes()


def _edited(path: Path, key: str, wanted: str, column: str, value: str) -> bytes:
    """A sheet with one cell changed in the rows that are meant."""
    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))
    changed = [row for row in rows if row[key] == wanted]
    assert changed, f"{path.name} has no {wanted}"
    for row in changed:
        row[column] = value
    out = io.StringIO()
    writer = csv.DictWriter(out, fieldnames=list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()
