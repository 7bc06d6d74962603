"""PNG: pictures that unpack to hundreds of megabytes, chunks without end, sizes that cannot be."""

from __future__ import annotations

import struct
import zlib
from random import Random

from traveller.management.trials.hostile.files.exif import fractions, orientation
from traveller.management.trials.hostile.files.kinds import hostile, side, some
from traveller.management.trials.hostile.files.packed import zlib_zeros

GREY, RGBA = 0, 6
HEAD = b"\x89PNG\r\n\x1a\n"
CHANNELS = {GREY: 1, RGBA: 4}


def chunk(kind: bytes, body: bytes = b"") -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def header(wide: int, tall: int, bits: int = 8, colour: int = GREY) -> bytes:
    return HEAD + chunk(b"IHDR", struct.pack(">IIBBBBB", wide, tall, bits, colour, 0, 0, 0))


def black(wide: int, tall: int, bits: int = 8, colour: int = GREY) -> bytes:
    """The chunk with all its points."""
    return chunk(b"IDAT", zlib_zeros((1 + wide * CHANNELS[colour] * bits // 8) * tall))


def png(wide: int, tall: int, bits: int = 8, colour: int = GREY, before: bytes = b"", after: bytes = b"") -> bytes:
    points = black(wide, tall, bits, colour)
    return header(wide, tall, bits, colour) + before + points + after + chunk(b"IEND")


def noise(rng: Random, wide: int, tall: int) -> bytes:
    """A picture that cannot be packed: its points fill the file."""
    rows = b"".join(b"\0" + rng.randbytes(wide) for _ in range(tall))
    return header(wide, tall) + chunk(b"IDAT", zlib.compress(rows, 1)) + chunk(b"IEND")


@hostile("picture", ".png", known=True)
def png_59_megapixels(rng: Random, scale: float) -> bytes:
    """PNG of 7700 by 7700 points, RGBA of 16 bits, in 461 KB."""
    length = side(scale, 7700)
    return png(length, length, 16, RGBA)


@hostile("picture", ".png")
def png_turned(rng: Random, scale: float) -> bytes:
    """The same, to be turned by a quarter: two pictures of it lie in memory."""
    length = side(scale, 7700)
    return png(length, length, 16, RGBA, before=chunk(b"eXIf", orientation(6)))


@hostile("picture", ".png")
def png_sides_2_31(rng: Random, scale: float) -> bytes:
    """PNG that says it is 2,147,483,647 points wide and high."""
    return header(2**31 - 1, 2**31 - 1) + black(8, 8) + chunk(b"IEND")


@hostile("picture", ".png")
def png_line_2_31(rng: Random, scale: float) -> bytes:
    """PNG that says it is 2,147,483,647 points wide and 1 high, RGBA of 16 bits."""
    return header(2**31 - 1, 1, 16, RGBA) + black(8, 8) + chunk(b"IEND")


@hostile("picture", ".png")
def png_million_chunks(rng: Random, scale: float) -> bytes:
    """PNG with 1,600,000 empty chunks of its own before the first point."""
    return png(8, 8, before=chunk(b"prVt") * some(scale, 1_600_000))


@hostile("picture", ".png")
def png_empty_points(rng: Random, scale: float) -> bytes:
    """PNG whose points come after 1,600,000 empty chunks of points."""
    return png(8, 8, before=chunk(b"IDAT") * some(scale, 1_600_000))


@hostile("picture", ".png")
def png_text_after(rng: Random, scale: float) -> bytes:
    """PNG with 1,000,000 words after its points."""
    return png(8, 8, after=chunk(b"tEXt", b"a\0b") * some(scale, 1_000_000))


@hostile("picture", ".png")
def png_moving(rng: Random, scale: float) -> bytes:
    """Animated PNG with 500,000 frames announced before the first point."""
    frames = some(scale, 500_000)
    turns = [chunk(b"fcTL", struct.pack(">IIIIIHHBB", number, 8, 8, 0, 0, 1, 25, 0, 0)) for number in range(frames)]
    return png(8, 8, before=chunk(b"acTL", struct.pack(">II", frames, 0)) + b"".join(turns))


@hostile("picture", ".png")
def png_packed_text(rng: Random, scale: float) -> bytes:
    """PNG with a text of a few kilobytes that unpacks to 2 GB."""
    return png(8, 8, before=chunk(b"zTXt", b"note\0\0" + zlib_zeros(some(scale, 2_000_000_000, 2_000_000))))


@hostile("picture", ".png")
def png_packed_colours(rng: Random, scale: float) -> bytes:
    """PNG with a colour profile that unpacks to 2 GB."""
    return png(8, 8, before=chunk(b"iCCP", b"icc\0\0" + zlib_zeros(some(scale, 2_000_000_000, 2_000_000))))


@hostile("picture", ".png")
def png_bad_check(rng: Random, scale: float) -> bytes:
    """PNG whose check sums are wrong."""
    whole = bytearray(noise(rng, 64, 64))
    whole[29] ^= 0xFF
    return bytes(whole)


@hostile("picture", ".png")
def png_cut_off(rng: Random, scale: float) -> bytes:
    """PNG that ends in the middle of its points."""
    whole = noise(rng, 200, 200)
    return whole[: rng.randrange(len(whole) // 4, len(whole) // 2)]


@hostile("picture", ".png")
def png_cut_in_head(rng: Random, scale: float) -> bytes:
    """PNG that ends in its head."""
    return noise(rng, 64, 64)[: rng.randrange(12, 26)]


@hostile("picture", ".png")
def png_fractions(rng: Random, scale: float) -> bytes:
    """PNG to be turned, with 1,500,000 fractions in its notes."""
    return png(8, 8, before=chunk(b"eXIf", fractions(some(scale, 1_500_000))))
