"""The photo of a code: turned as the phone held it, read for our two kinds of code."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import zxingcpp

from traveller.decode.kinds.opened import TooManyPoints, reduced, samples

SIDE_MAX = 2600
FORMATS = zxingcpp.BarcodeFormats([zxingcpp.BarcodeFormat.QRCode, zxingcpp.BarcodeFormat.Code128])
# A long code lies crooked in most photos: linear codes tolerate some ten degrees, so a few turns are tried.
TURNS = (0, 20, -20, 40, -40)
TEXT_CHARS_MAX = 500


def rehearse(asked: Mapping[str, Any]) -> None:
    for sample in samples():
        decode(asked, [sample])


def decode(asked: Mapping[str, Any], blobs: list[bytes]) -> tuple[dict[str, Any], list[bytes]]:
    """Answers {"text": the first code, or None}, or {"points": [width, height]} of too large a picture."""
    try:
        grey, _, _ = reduced(blobs[0], SIDE_MAX, "L")
    except TooManyPoints as many:
        return {"points": [many.width, many.height]}, []
    for angle in TURNS:
        turned = grey.rotate(angle, expand=True, fillcolor=255) if angle else grey
        found = zxingcpp.read_barcodes(turned, formats=FORMATS, text_mode=zxingcpp.TextMode.Plain)
        if found:
            return {"text": str(found[0].text)[:TEXT_CHARS_MAX]}, []
    return {"text": None}, []
