"""A picture, opened by named formats only: a format that starts another program to draw itself is never tried."""

from __future__ import annotations

import io

from PIL import Image, ImageOps

from traveller.decode.limits import FORMATS, PIXELS_MAX

__all__ = ["TooManyPoints", "reduced", "samples"]

# Counted here, and answered in figures, before anything is unpacked.
Image.MAX_IMAGE_PIXELS = None
_SAMPLES = ("JPEG", "PNG", "WEBP")


def samples() -> list[bytes]:
    """A small picture of each form, crooked, with a camera's remarks, one with a palette: for rehearsals."""
    found = []
    held = Image.Exif()
    held[0x0112] = 6
    for form in _SAMPLES:
        image = Image.new("RGB", (8, 4), "grey")
        out = io.BytesIO()
        (image.quantize(4) if form == "PNG" else image).save(out, form, exif=held)
        found.append(out.getvalue())
    return found


class TooManyPoints(ValueError):
    """More pixels than any photo of a piece needs; they are not even unpacked."""

    def __init__(self, width: int, height: int) -> None:
        super().__init__(f"{width} x {height}")
        self.width, self.height = width, height


def reduced(content: bytes, side_most: int, mode: str) -> tuple[Image.Image, str, tuple[int, int]]:
    """The first picture, turned as it was held, no side above `side_most`; its format; its own width and height.

    Made small before it is turned or changed in colour, so that one unpacked copy is all there ever is.
    Raises TooManyPoints, or whatever the decoder raises for a damaged file.
    """
    opened = Image.open(io.BytesIO(content), formats=list(FORMATS))
    form, size = opened.format or "", opened.size
    if form == "MPO":
        form = "JPEG"
    if size[0] * size[1] > PIXELS_MAX:
        raise TooManyPoints(*size)
    opened.draft(mode, (side_most, side_most))
    opened.load()
    image: Image.Image = opened
    if image.mode in ("1", "P", "PA"):
        image = _with_own(image, image.convert("RGBA" if "transparency" in image.info else "RGB"))
    image.thumbnail((side_most, side_most))
    return ImageOps.exif_transpose(image).convert(mode), form, size


def _with_own(image: Image.Image, converted: Image.Image) -> Image.Image:
    """The converted picture, which still knows how it was held."""
    converted.getexif().update(image.getexif())
    return converted
