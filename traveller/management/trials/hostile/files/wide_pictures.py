"""Pictures of 60 to 88 megapixels of one colour, in as few bytes as their kind allows."""

from __future__ import annotations

import struct
from random import Random

from traveller.management.trials.hostile.files.kinds import hostile, side
from traveller.management.trials.hostile.files.png import RGBA, png


@hostile("picture", ".tga")
def tga_runs(rng: Random, scale: float) -> bytes:
    """TGA of 88 megapixels with transparency, in 3.5 MB."""
    length = side(scale, 9380)
    head = struct.pack("<BBBHHBHHHHBB", 0, 0, 10, 0, 0, 0, 0, 0, length, length, 32, 0x28)
    line = (b"\xff" + bytes(4)) * (length // 128) + bytes([127 + length % 128]) * (length % 128 > 0) + bytes(4)
    return head + line * length


@hostile("picture", ".pcx")
def pcx_runs(rng: Random, scale: float) -> bytes:
    """PCX of 88 megapixels, in 8.5 MB."""
    length = side(scale, 9380) // 63 * 63
    head = struct.pack("<BBBBHHHHHH", 10, 5, 1, 8, 0, 0, length - 1, length - 1, 300, 300)
    head = head.ljust(65, b"\0") + struct.pack("<BHH", 3, length, 1)
    return head.ljust(128, b"\0") + b"\xff\x80" * (length // 63 * 3 * length)


@hostile("picture", ".sgi")
def sgi_runs(rng: Random, scale: float) -> bytes:
    """SGI of 88 megapixels whose lines all lie in the same place, in 0.3 MB."""
    length = side(scale, 9380)
    rows = length * 4
    line = b"\x7f\x80" * (length // 127) + bytes([length % 127, 0x80, 0])
    head = struct.pack(">HBBHHHH", 474, 1, 1, 3, length, length, 4).ljust(512, b"\0")
    return head + struct.pack(">I", 512 + rows * 8) * rows + struct.pack(">I", len(line)) * rows + line


@hostile("picture", ".ras")
def sun_runs(rng: Random, scale: float) -> bytes:
    """SUN raster of 88 megapixels, in 3.1 MB."""
    length = side(scale, 9380)
    body = b"\x80\xff\x07" * -(-length * length * 3 // 256)
    return struct.pack(">8I", 0x59A66A95, length, length, 24, len(body), 2, 0, 0) + body


@hostile("picture", ".psd")
def psd_runs(rng: Random, scale: float) -> bytes:
    """PSD of 88 megapixels in four inks, in 5.6 MB."""
    length = side(scale, 9380)
    head = b"8BPS" + struct.pack(">H6xHIIHH", 1, 4, length, length, 8, 4) + bytes(12)
    line = b"\x81\0" * (length // 128) + (bytes([257 - length % 128, 0]) if length % 128 > 1 else b"")
    return head + b"\0\x01" + struct.pack(">H", len(line)) * length * 4 + line * length * 4


@hostile("picture", ".ico")
def ico_with_png(rng: Random, scale: float) -> bytes:
    """Icon file that holds a PNG of 59 megapixels."""
    length = side(scale, 7700)
    inner = png(length, length, 16, RGBA)
    return struct.pack("<HHHBBBBHHII", 0, 1, 1, 0, 0, 0, 0, 1, 32, len(inner), 22) + inner


@hostile("picture", ".icns")
def icns_with_png(rng: Random, scale: float) -> bytes:
    """Icon file of another kind that holds a PNG of 59 megapixels."""
    length = side(scale, 7700)
    inner = png(length, length, 16, RGBA)
    part = b"ic10" + struct.pack(">I", len(inner) + 8) + inner
    return b"icns" + struct.pack(">I", len(part) + 8) + part


@hostile("picture", ".jp2")
def jpeg2000_vast(rng: Random, scale: float) -> bytes:
    """JPEG 2000 of 88 megapixels in three colours, of whose only tile nothing is there."""
    length = side(scale, 9380)
    size = struct.pack(">HIIIIIIIIH", 0, length, length, 0, 0, length, length, 0, 0, 3) + b"\x07\x01\x01" * 3
    how = struct.pack(">BBHBBBBBB", 0, 0, 1, 0, 5, 4, 4, 0, 1)
    steps = b"\x40" + bytes([0x40, 0x48, 0x48, 0x50] + [0x48, 0x48, 0x50] * 4)

    def part(marker: int, body: bytes) -> bytes:
        return struct.pack(">HH", marker, len(body) + 2) + body

    head = b"\xff\x4f" + part(0xFF51, size) + part(0xFF52, how) + part(0xFF5C, steps)
    return head + part(0xFF90, struct.pack(">HIBB", 0, 14 + 4096, 0, 1)) + b"\xff\x93" + bytes(4096) + b"\xff\xd9"


@hostile("picture", ".blp")
def blp_point_by_point(rng: Random, scale: float) -> bytes:
    """BLP of 4 megapixels, unpacked block by block."""
    length = side(scale, 2000) // 4 * 4
    size = length * length // 2
    head = b"BLP2" + struct.pack("<IBBBBII", 1, 2, 0, 0, 0, length, length)
    head += struct.pack("<16I", 148 + 1024, *[0] * 15) + struct.pack("<16I", size, *[0] * 15)
    return head + bytes(1024) + bytes(size)
