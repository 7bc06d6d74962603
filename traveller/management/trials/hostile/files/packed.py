"""Zeros in few bytes: streams that unpack to a thousand times their size, made without packing them."""

from __future__ import annotations

import struct
import zlib

_BLOCK = 1 << 20
_ADLER = 65_521


def raw_zeros(size: int) -> bytes:
    """A raw deflate stream of so many zero bytes: one packed block, again and again."""
    whole, rest = divmod(size, _BLOCK)
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    block = packer.compress(bytes(_BLOCK)) + packer.flush(zlib.Z_FULL_FLUSH)
    last = zlib.compressobj(9, zlib.DEFLATED, -15)
    return block * whole + last.compress(bytes(rest)) + last.flush()


def zlib_zeros(size: int) -> bytes:
    """The same with the head and the check sum of zlib."""
    return b"\x78\xda" + raw_zeros(size) + struct.pack(">I", (size % _ADLER) << 16 | 1)


def gzip_zeros(size: int) -> bytes:
    """The same as a gzip file."""
    check = 0
    for _ in range(size // _BLOCK):
        check = zlib.crc32(bytes(_BLOCK), check)
    check = zlib.crc32(bytes(size % _BLOCK), check)
    head = b"\x1f\x8b\x08\x00\x00\x00\x00\x00\x02\xff"
    return head + raw_zeros(size) + struct.pack("<II", check, size & 0xFFFFFFFF)
