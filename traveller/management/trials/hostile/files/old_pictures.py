"""Kinds of picture that nobody sends, which a library reads all the same: point by point, or never to an end."""

from __future__ import annotations

import struct
from random import Random

from traveller.management.trials.hostile.files.kinds import hostile, side, some
from traveller.management.trials.hostile.files.packed import gzip_zeros


def _card(name: str, value: str) -> bytes:
    return f"{name:8}= {value}".encode().ljust(80)


def cards(*rows: bytes) -> bytes:
    whole = b"".join(rows) + b"END".ljust(80)
    return whole.ljust(-(-len(whole) // 2880) * 2880)


@hostile("picture", ".fits")
def fits_packed(rng: Random, scale: float) -> bytes:
    """FITS of 9380 by 9380 points, packed a thousandfold."""
    length = side(scale, 9380)
    first = cards(_card("SIMPLE", "T"), _card("BITPIX", "8"), _card("NAXIS", "0"))
    table = cards(
        b"XTENSION= 'BINTABLE'".ljust(80), _card("BITPIX", "8"), _card("NAXIS", "2"), _card("NAXIS1", "0"),
        _card("NAXIS2", "0"), _card("ZIMAGE", "T"), b"ZCMPTYPE= 'GZIP_1  '".ljust(80), _card("ZBITPIX", "8"),
        _card("ZNAXIS", "2"), _card("ZNAXIS1", str(length)), _card("ZNAXIS2", str(length)),
    )  # fmt: skip
    return first + table + gzip_zeros(length * length * 4)


@hostile("picture", ".qoi")
def qoi_point_by_point(rng: Random, scale: float) -> bytes:
    """QOI of 9 megapixels, read point by point."""
    length = side(scale, 3000)
    return b"qoif" + struct.pack(">IIBB", length, length, 4, 0) + b"\x6a" * (length * length) + bytes(7) + b"\x01"


@hostile("picture", ".pgm")
def pgm_in_figures(rng: Random, scale: float) -> bytes:
    """PGM whose 10 megapixels are written as figures."""
    length = side(scale, 3160)
    return b"P2 %d %d 255\n" % (length, length) + b"7 " * (length * length)


@hostile("picture", ".pbm")
def pbm_in_figures(rng: Random, scale: float) -> bytes:
    """PBM whose 20 megapixels are written as figures."""
    length = side(scale, 4470)
    return b"P1 %d %d\n" % (length, length) + b"1" * (length * length)


@hostile("picture", ".bmp")
def bmp_runs_of_one(rng: Random, scale: float) -> bytes:
    """BMP of 9 megapixels in runs of one point."""
    length = side(scale, 3000)
    body = b"\x01\x05" * (length * length)
    head = struct.pack("<IiiHHIIiiII", 40, length, length, 1, 8, 1, len(body), 0, 0, 256, 0) + bytes(1024)
    return b"BM" + struct.pack("<IHHI", 14 + len(head) + len(body), 0, 0, 14 + len(head)) + head + body


@hostile("picture", ".dds")
def dds_point_by_point(rng: Random, scale: float) -> bytes:
    """DDS of 4 megapixels whose colours are masks of their own."""
    length = side(scale, 2000)
    head = b"DDS " + struct.pack("<7I44x", 124, 0x1007, length, length, length * 4, 0, 0)
    head += struct.pack("<8I", 32, 0x41, 0, 32, 0x3FF00000, 0xFFC00, 0x3FF, 0xC0000000) + struct.pack(
        "<5I", 0x1000, *[0] * 4
    )
    return head + bytes(length * length * 4)


@hostile("picture", ".msp")
def msp_runs(rng: Random, scale: float) -> bytes:
    """MSP of 65,535 lines in runs of one byte."""
    tall = some(scale, 65_535)
    words = [0x694C, 0x536E, 800, tall, 0, 0, 0, 0, 0, 0, 0, 0]
    check = 0
    for word in words:
        check ^= word
    head = struct.pack("<16H", *words, check, 0, 0, 0)
    return head + struct.pack("<H", 300) * tall + b"\0\x01\x55" * 100 * tall


@hostile("picture", ".wmf")
def wmf_drawing(rng: Random, scale: float) -> bytes:
    """WMF: a drawing for a program that this system does not have."""
    return (
        b"\xd7\xcd\xc6\x9a\0\0"
        + struct.pack("<hhhhHI", 0, 0, 32_000, 32_000, 72, 0)
        + bytes(2)
        + b"\x01\0\x09\0"
        + bytes(80)
    )


@hostile("picture", ".emf")
def emf_drawing(rng: Random, scale: float) -> bytes:
    """EMF: the same of another kind, 2^31 points wide."""
    head = struct.pack("<II4i4i", 1, 108, 0, 0, 2**31 - 1, 2**31 - 1, 0, 0, 2540, 2540)
    return head + b" EMF" + bytes(64)


@hostile("picture", ".xpm")
def xpm_colours(rng: Random, scale: float) -> bytes:
    """XPM with more colours than a picture of its kind can have."""
    rows = b"".join(b'"%03x c #%06x",\n' % (number % 4096, number) for number in range(some(scale, 60_000)))
    return b'/* XPM */\nstatic char *a[] = {\n"8 8 60000 3",\n' + rows + b"};\n"


@hostile("picture", ".im")
def im_endless_head(rng: Random, scale: float) -> bytes:
    """IM with 1,500,000 lines of head."""
    return b"Image type: L 1 image\r\n" + b"Name: abc\r\n" * some(scale, 1_500_000) + b"\x1a"
