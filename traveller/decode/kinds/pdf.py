"""The first pages of a PDF as pictures."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

import pypdfium2

PAGES_MOST = 6
WIDE_PX, TALL_PX = 1000, 1500
QUALITY = 82
PASSWORD_NEEDED, LOCK_UNKNOWN = 4, 5


def scale_for(width_pt: float, height_pt: float) -> float:
    """So that the picture fits into WIDE_PX by TALL_PX, however large the page says it is.

    Raises ValueError where the page has no size.
    """
    if not (width_pt > 0 and height_pt > 0):
        raise ValueError("a page without a size")
    # One dot is kept back, since the drawer rounds up.
    return min((WIDE_PX - 1) / width_pt, (TALL_PX - 1) / height_pt)


def rehearse(asked: Mapping[str, Any]) -> None:
    blank, out = pypdfium2.PdfDocument.new(), io.BytesIO()
    blank.new_page(200, 100)
    blank.save(out)
    decode(asked, [out.getvalue()])


def decode(asked: Mapping[str, Any], blobs: list[bytes]) -> tuple[dict[str, Any], list[bytes]]:
    """Answers {"total": pages} with a JPEG for each of the first six, or {"locked": True}."""
    try:
        document = pypdfium2.PdfDocument(blobs[0])
    except pypdfium2.PdfiumError as error:
        if error.err_code in (PASSWORD_NEEDED, LOCK_UNKNOWN):
            return {"locked": True}, []
        raise
    total, pictures = len(document), []
    for number in range(min(total, PAGES_MOST)):
        page = document[number]
        picture = page.render(scale=scale_for(*page.get_size())).to_pil().convert("RGB")
        out = io.BytesIO()
        picture.save(out, "JPEG", quality=QUALITY)
        pictures.append(out.getvalue())
        page.close()
    return {"total": total}, pictures
