"""Photos of our codes, drawn for the tests."""

from __future__ import annotations

from io import BytesIO

import zxingcpp
from PIL import Image

CODE = "74W700R"
ADDRESS = f"https://trace.example/t/{CODE}/30"


def drawn(text: str, kind: zxingcpp.BarcodeFormat, scale: int = 6) -> Image.Image:
    """A code as printed, on a sheet of white paper."""
    code = Image.fromarray(zxingcpp.create_barcode(text, kind).to_image(scale=scale)).convert("L")
    if kind == zxingcpp.BarcodeFormat.Code128:
        code = code.resize((code.width, 120))
    sheet = Image.new("L", (code.width + 400, code.height + 400), 235)
    sheet.paste(code, (200, 200))
    return sheet


def photo(image: Image.Image, kind: str = "JPEG", **reported: object) -> bytes:
    """The picture as a file."""
    file = BytesIO()
    image.save(file, kind, **reported)
    return file.getvalue()


QR = drawn(ADDRESS, zxingcpp.BarcodeFormat.QRCode)
BARS = drawn(CODE, zxingcpp.BarcodeFormat.Code128)
