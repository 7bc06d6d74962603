"""A photo of a code: bounded in bytes and pixels, turned as the phone held it, read for our two kinds of code."""

from __future__ import annotations

import warnings
from typing import Any

import zxingcpp
from PIL import Image, ImageOps, UnidentifiedImageError

from traveller.journal.refusal import Refusal

BYTES_MAX = 20 * 1024 * 1024
PIXELS_MAX = 60_000_000
SIDE_MAX = 2600
FORMATS = zxingcpp.BarcodeFormats([zxingcpp.BarcodeFormat.QRCode, zxingcpp.BarcodeFormat.Code128])


def code_in_photo(upload: Any) -> str | Refusal:
    """The text of the first code in the picture, or why there is none."""
    if upload is None or not upload.size:
        return Refusal("photo_empty")
    if upload.size > BYTES_MAX:
        return Refusal("photo_too_large", {"megabytes_max": BYTES_MAX // 1024 // 1024})
    try:
        with warnings.catch_warnings():
            # A bomb announces itself by a warning before it is unpacked.
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            image = Image.open(upload)
            if image.width * image.height > PIXELS_MAX:
                return Refusal("photo_too_large", {"megabytes_max": BYTES_MAX // 1024 // 1024})
            image.draft("L", (SIDE_MAX, SIDE_MAX))
            grey = ImageOps.exif_transpose(image).convert("L")
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Warning, Image.DecompressionBombError):
        return Refusal("photo_unreadable")
    grey.thumbnail((SIDE_MAX, SIDE_MAX))
    # A long code lies crooked in most photos: linear codes tolerate some ten degrees, so try a few turns.
    for angle in (0, 20, -20, 40, -40):
        turned = grey.rotate(angle, expand=True, fillcolor=255) if angle else grey
        found = zxingcpp.read_barcodes(turned, formats=FORMATS, text_mode=zxingcpp.TextMode.Plain)
        if found:
            return str(found[0].text)
    return Refusal("photo_without_code")
