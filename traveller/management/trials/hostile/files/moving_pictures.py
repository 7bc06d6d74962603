"""Pictures that move or have pages: frames by the thousand, and canvases far larger than what is on them."""

from __future__ import annotations

import io
import struct
from random import Random

from PIL import Image

from traveller.management.trials.hostile.files.exif import fractions
from traveller.management.trials.hostile.files.kinds import hostile, side, some

GIF_HEAD = b"GIF89a" + struct.pack("<HHBBB", 8, 8, 0x80, 0, 0) + bytes(6)
# One frame of one point: where it lies, its size, two bits a code, clear, one point, end.
GIF_FRAME = b"," + struct.pack("<HHHHB", 0, 0, 1, 1, 0) + b"\x02\x02\x4c\x01\0"


def chunk(kind: bytes, body: bytes) -> bytes:
    return kind + struct.pack("<I", len(body)) + body + bytes(len(body) & 1)


def riff(*chunks: bytes) -> bytes:
    body = b"WEBP" + b"".join(chunks)
    return b"RIFF" + struct.pack("<I", len(body)) + body


def threes(number: int) -> bytes:
    return struct.pack("<I", number)[:3]


def canvas(wide: int, tall: int, flags: int) -> bytes:
    return chunk(b"VP8X", bytes([flags, 0, 0, 0]) + threes(wide - 1) + threes(tall - 1))


def webp(rng: Random, wide: int, tall: int) -> bytes:
    """The chunk of a picture of noise."""
    out = io.BytesIO()
    Image.frombytes("RGB", (wide, tall), rng.randbytes(wide * tall * 3)).save(out, "WEBP", lossless=True)
    return out.getvalue()[12:]


def one_colour(wide: int, tall: int) -> bytes:
    """A lossless picture of one colour: every code is the only one of its table and takes no bit."""
    bits = (wide - 1) | (tall - 1) << 14
    # No transform, no cache, no tables of tables; five tables with one code each: simple, one symbol, one bit wide.
    five = 0
    for number in range(5):
        five |= 0b0001 << number * 4
    body = bytes([0x2F]) + struct.pack("<I", bits) + (five << 3).to_bytes(8, "little")
    return chunk(b"VP8L", body)


def frame(picture: bytes, wide: int, tall: int) -> bytes:
    return chunk(b"ANMF", threes(0) * 2 + threes(wide - 1) + threes(tall - 1) + threes(40) + b"\0" + picture)


@hostile("picture", ".gif")
def gif_thousands_of_frames(rng: Random, scale: float) -> bytes:
    """GIF with 1,000,000 frames of one point."""
    return GIF_HEAD + GIF_FRAME * some(scale, 1_000_000) + b";"


@hostile("picture", ".gif")
def gif_endless_notes(rng: Random, scale: float) -> bytes:
    """GIF with 2,500,000 settings of the next frame before the first."""
    setting = b"!\xf9\x04\0\0\0\0\0"
    return GIF_HEAD + setting * some(scale, 2_500_000) + GIF_FRAME + b";"


@hostile("picture", ".gif")
def gif_endless_comment(rng: Random, scale: float) -> bytes:
    """GIF whose comment comes in 8,000,000 pieces of one letter."""
    return GIF_HEAD + b"!\xfe" + b"\x01a" * some(scale, 8_000_000) + b"\0" + GIF_FRAME + b";"


@hostile("picture", ".gif")
def gif_largest_canvas(rng: Random, scale: float) -> bytes:
    """GIF of one point on a canvas of 65,535 by 65,535."""
    return b"GIF89a" + struct.pack("<HHBBB", 65_535, 65_535, 0x80, 0, 0) + bytes(6) + GIF_FRAME + b";"


@hostile("picture", ".webp")
def webp_one_colour(rng: Random, scale: float) -> bytes:
    """WEBP of 9380 by 9380 points of one colour, in 60 bytes."""
    length = side(scale, 9380)
    return riff(one_colour(length, length))


@hostile("picture", ".webp")
def webp_moving(rng: Random, scale: float) -> bytes:
    """Animated WEBP: 20,000 frames of 7700 by 7700 points, in 1.5 MB."""
    length = side(scale, 7700)
    frames = frame(one_colour(length, length), length, length) * some(scale, 20_000)
    return riff(canvas(length, length, 0x02), chunk(b"ANIM", bytes(6)), frames)


@hostile("picture", ".webp")
def webp_fractions(rng: Random, scale: float) -> bytes:
    """WEBP to be turned, with 1,500,000 fractions in its notes."""
    notes = fractions(some(scale, 1_500_000))
    return riff(canvas(16, 16, 0x08), one_colour(16, 16), chunk(b"EXIF", notes))


@hostile("picture", ".webp")
def webp_cut_off(rng: Random, scale: float) -> bytes:
    """WEBP that ends in the middle of its points."""
    whole = riff(webp(rng, 96, 96))
    return whole[: rng.randrange(len(whole) // 3, len(whole) // 2)]


@hostile("picture", ".fli")
def fli_frames(rng: Random, scale: float) -> bytes:
    """Film of 65,535 frames whose first says that it is 4 GB long."""
    head = struct.pack("<IHHHHHHI", 2**32 - 1, 0xAF12, 65_535, 320, 200, 8, 0, 40)
    return head.ljust(128, b"\0") + struct.pack("<IHH8x", 2**32 - 1, 0xF1FA, 1) + bytes(64)


@hostile("picture", ".ico")
def ico_many_pictures(rng: Random, scale: float) -> bytes:
    """Icon file of 65,535 pictures of which none is there."""
    count = some(scale, 65_535)
    entry = struct.pack("<BBBBHHII", 0, 0, 0, 0, 1, 32, 64, 6 + 16 * count)
    return struct.pack("<HHH", 0, 1, count) + entry * count
