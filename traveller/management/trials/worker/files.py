"""Honest files that take long to read: a log of a day in seconds, a picture of many points, a PDF with much to draw."""

from __future__ import annotations

import io
from datetime import datetime, timedelta
from random import Random

from PIL import Image
from reportlab.pdfgen.canvas import Canvas

# Reader, what it is sent as, and the name of the file.
FILE_KINDS = {"log": ("log", "oven.csv"), "picture": ("photo", "rack.jpg"), "pdf": ("certificate", "certificate.pdf")}
_ROWS = {True: 20_000, False: 100_000}
_SIDES = {True: (1350, 925), False: (5400, 3700)}
LINES = {True: 200, False: 1_500}
_PAGES, _GRAIN = 3, 5


def made(kind: str, rng: Random, began: datetime, *, short: bool) -> bytes:
    """A file of this kind as nobody sent it before; a log begins at `began` and is hot throughout."""
    if kind == "log":
        rows = (f"{(began + timedelta(seconds=n)).isoformat()};{85 + rng.random():.2f}" for n in range(_ROWS[short]))
        return "\r\n".join(["time;oven (C)", *rows, ""]).encode()
    return _picture(rng, _SIDES[short]) if kind == "picture" else _pdf(rng, LINES[short])


def _picture(rng: Random, size: tuple[int, int]) -> bytes:
    grain = (size[0] // _GRAIN, size[1] // _GRAIN)
    out = io.BytesIO()
    Image.frombytes("RGB", grain, rng.randbytes(grain[0] * grain[1] * 3)).resize(size).save(out, "JPEG", quality=80)
    return out.getvalue()


def _pdf(rng: Random, lines: int) -> bytes:
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(595, 842))
    for _ in range(_PAGES):
        for _ in range(lines // _PAGES):
            canvas.setLineWidth(rng.random() * 3)
            canvas.bezier(*(rng.random() * 595 for _ in range(8)))
        canvas.showPage()
    canvas.save()
    return out.getvalue()
