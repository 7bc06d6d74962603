"""TIFF: directories that point at each other and at the same place, pages by the thousand, vast strips."""

from __future__ import annotations

import struct
from random import Random

from traveller.management.trials.hostile.files.exif import LONG, SHORT, directory
from traveller.management.trials.hostile.files.kinds import hostile, side, some
from traveller.management.trials.hostile.files.packed import zlib_zeros

DEFLATED = 8


def _page(wide: int, tall: int, parts: int, bits: int, strip: int, size: int, at: int, following: int = 0) -> bytes:
    """A directory for one picture of one packed strip; bits up to two parts stand in it, more need a place."""
    rows = [
        (256, LONG, 1, wide), (257, LONG, 1, tall), (258, SHORT, 1, bits), (259, SHORT, 1, DEFLATED),
        (262, SHORT, 1, 5 if parts == 4 else 1), (273, LONG, 1, strip), (277, SHORT, 1, parts), (278, LONG, 1, tall),
        (279, LONG, 1, size),
    ]  # fmt: skip
    return directory(rows, following, at)


def one_page(length: int, parts: int, bits: int) -> bytes:
    packed = zlib_zeros(length * length * parts * bits // 8)
    size = len(_page(0, 0, parts, bits, 0, 0, 8))
    return _page(length, length, parts, bits, size, len(packed), 8) + packed


@hostile("picture", ".tif")
def tiff_vast(rng: Random, scale: float) -> bytes:
    """TIFF of 88 megapixels of 32 bits, packed a thousandfold."""
    return one_page(side(scale, 9380), 1, 32)


@hostile("picture", ".tif")
def tiff_thousands_of_pages(rng: Random, scale: float) -> bytes:
    """TIFF of 100,000 pages, the last of which is followed by the first; each is 88 megapixels."""
    count, length = some(scale, 100_000, 2), side(scale, 9380)
    packed = zlib_zeros(length * length * 2)
    one = len(_page(1, 1, 1, 16, 0, 0, 9))
    strip = 8 + one * count
    pages = [
        _page(length, length, 1, 16, strip, len(packed), 9, 8 + one * ((number + 1) % count)) for number in range(count)
    ]
    return b"II*\0" + struct.pack("<I", 8) + b"".join(pages) + packed
