"""JPEG: vast pictures in few bits, heads without end, scans without end."""

from __future__ import annotations

import io
import struct
from random import Random

from PIL import Image

from traveller.management.trials.hostile.files.exif import fractions, orientation
from traveller.management.trials.hostile.files.kinds import hostile, side, some

START, END = b"\xff\xd8", b"\xff\xd9"
# One code of one bit for "nothing", so that a block of 64 points takes two bits.
SHORTEST = bytes([1] + [0] * 15) + b"\0"
# The codes of a scan that skips runs of blocks: one for each power of two up to 2^14.
RUNS = bytes([0] * 3 + [15] + [0] * 12) + bytes(power << 4 for power in range(15))


def segment(marker: int, body: bytes) -> bytes:
    return bytes([0xFF, marker]) + struct.pack(">H", len(body) + 2) + body


def table_of_steps() -> bytes:
    return segment(0xDB, b"\0" + bytes([1] * 64))


def frame(marker: int, length: int, parts: int) -> bytes:
    rows = b"".join(bytes([number + 1, 0x11, 0]) for number in range(parts))
    return segment(marker, struct.pack(">BHHB", 8, length, length, parts) + rows)


def scan(parts: int, first: int = 0, last: int = 63, high_low: int = 0) -> bytes:
    rows = b"".join(bytes([number + 1, 0]) for number in range(parts))
    return segment(0xDA, bytes([parts]) + rows + bytes([first, last, high_low]))


def codes() -> bytes:
    return segment(0xC4, b"\x00" + SHORTEST) + segment(0xC4, b"\x10" + SHORTEST)


def vast(length: int, parts: int, before: bytes = b"") -> bytes:
    """A square of one colour: two bits a block."""
    blocks = (-(-length // 8)) ** 2 * parts
    head = START + before + table_of_steps() + frame(0xC0, length, parts) + codes()
    return head + scan(parts) + bytes(-(-blocks * 2 // 8)) + END


def _photo(rng: Random, wide: int = 320, tall: int = 240, **how: object) -> bytes:
    """A picture of noise, as a camera would pack it."""
    out = io.BytesIO()
    Image.frombytes("RGB", (wide, tall), rng.randbytes(wide * tall * 3)).save(out, "JPEG", **how)
    return out.getvalue()


@hostile("picture", ".jpg")
def jpeg_88_megapixels(rng: Random, scale: float) -> bytes:
    """JPEG of 9380 by 9380 points in four inks, in 1.4 MB."""
    return vast(side(scale, 9380), 4)


@hostile("picture", ".jpg")
def jpeg_turned(rng: Random, scale: float) -> bytes:
    """JPEG of 59 megapixels in four inks, to be turned by a quarter."""
    return vast(side(scale, 7700), 4, before=segment(0xE1, b"Exif\0\0" + orientation(6)))


@hostile("picture", ".jpg")
def jpeg_largest_sides(rng: Random, scale: float) -> bytes:
    """JPEG that says it is 65,535 points wide and high."""
    return START + table_of_steps() + frame(0xC0, 65_535, 3) + codes() + scan(3) + bytes(64) + END


@hostile("picture", ".jpg")
def jpeg_thousand_scans(rng: Random, scale: float) -> bytes:
    """Progressive JPEG of 59 megapixels that is drawn over 3,000 times, in 180 KB."""
    length = side(scale, 7700)
    blocks = (-(-length // 8)) ** 2
    # A run of 2^14 blocks is one code of four bits and fourteen bits that say nothing more.
    run = 0b1110 << 14
    bits, width = 0, 0
    for _ in range(-(-blocks // 2**14)):
        bits, width = bits << 18 | run, width + 18
    width += -width % 8
    bits <<= -(-blocks // 2**14) * -18 % 8
    skipped = bits.to_bytes(width // 8, "big").replace(b"\xff", b"\xff\0")
    first = codes() + scan(1, 0, 0) + bytes(-(-blocks // 8))
    again = scan(1, 1, 63, 0) + skipped
    head = START + table_of_steps() + frame(0xC2, length, 1) + first + segment(0xC4, b"\x10" + RUNS)
    return head + again * some(scale, 3000) + END


@hostile("picture", ".jpg")
def jpeg_million_segments(rng: Random, scale: float) -> bytes:
    """JPEG with 4,000,000 empty notes of programs before its picture."""
    return START + segment(0xEB, b"") * some(scale, 4_000_000) + _photo(rng)[2:]


@hostile("picture", ".jpg")
def jpeg_endless_padding(rng: Random, scale: float) -> bytes:
    """JPEG with 20 MB of filling between two marks."""
    return START + b"\xff" * some(scale, 20_000_000) + _photo(rng)[2:]


@hostile("picture", ".jpg")
def jpeg_cut_off(rng: Random, scale: float) -> bytes:
    """JPEG that ends in the middle of its points."""
    whole = _photo(rng)
    return whole[: rng.randrange(len(whole) // 3, len(whole) // 2)]


@hostile("picture", ".jpg")
def jpeg_cut_in_tables(rng: Random, scale: float) -> bytes:
    """JPEG that ends before its first point."""
    return _photo(rng)[: rng.randrange(40, 160)]


@hostile("picture", ".jpg")
def jpeg_fractions(rng: Random, scale: float) -> bytes:
    """JPEG to be turned, with 1,500,000 fractions in its notes, which take up 185 segments."""
    notes = fractions(some(scale, 1_500_000))
    pieces = [notes[at : at + 65_000] for at in range(0, len(notes), 65_000)]
    return START + b"".join(segment(0xE1, b"Exif\0\0" + piece) for piece in pieces) + _photo(rng)[2:]
