"""Certificates as suppliers send them, and as nobody should."""

from __future__ import annotations

import io

from reportlab.lib.pdfencrypt import StandardEncryption
from reportlab.pdfgen.canvas import Canvas


def certificate(pages: int = 1, *, password: str = "", size: tuple[float, float] = (595.0, 842.0)) -> bytes:
    """So many pages with some ink on each; with a password nobody opens it without."""
    out = io.BytesIO()
    lock = StandardEncryption(password, canPrint=0) if password else None
    canvas = Canvas(out, pagesize=size, invariant=1, encrypt=lock)
    for number in range(1, pages + 1):
        canvas.drawString(72, size[1] - 72, f"Resin certificate, page {number}")
        canvas.rect(0, 0, size[0] / 2, size[1] / 2, fill=1)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def bare(media_box: str = "0 0 595 842", content: bytes = b"", forms: str = "") -> bytes:
    """A PDF written by hand, without a table of its objects; readers rebuild it."""
    return (
        b"%%PDF-1.4\n1 0 obj <</Type/Catalog/Pages 2 0 R>> endobj\n"
        b"2 0 obj <</Type/Pages/Kids[3 0 R]/Count 1>> endobj\n"
        b"3 0 obj <</Type/Page/Parent 2 0 R/MediaBox[%b]/Contents 4 0 R/Resources<</XObject<<%b>>>>>> endobj\n"
        b"4 0 obj <</Length %d>> stream\n%b\nendstream endobj\n"
        % (media_box.encode(), forms.encode(), len(content), content)
        + _TRAILER
    )


_TRAILER = b"trailer <</Root 1 0 R>>\n%%EOF\n"


def endless(depth: int = 14, times: int = 20) -> bytes:
    """Small, and asks for some 20 to the 14th strokes: each form draws the next twenty times."""
    first = bare(content=b"/F0 Do", forms="/F0 10 0 R")
    objects = []
    for level in range(depth):
        last = level == depth - 1
        ink = b"0 0 500 700 re f" if last else b"/F%d Do " % (level + 1) * times
        named = b"" if last else b"/F%d %d 0 R" % (level + 1, 11 + level)
        objects.append(
            b"%d 0 obj <</Type/XObject/Subtype/Form/BBox[0 0 595 842]/Resources<</XObject<<%b>>>>/Length %d>> stream\n"
            b"%b\nendstream endobj\n" % (10 + level, named, len(ink), ink)
        )
    return first.removesuffix(_TRAILER) + b"".join(objects) + _TRAILER
