"""Zips written by hand: what the directory says need not be what lies there."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Sequence
from dataclasses import dataclass

from traveller.management.trials.hostile.files.packed import raw_zeros


def zipped(members: Sequence[tuple[str, bytes]], packing: int = zipfile.ZIP_DEFLATED) -> bytes:
    """An honest zip of these members."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", packing) as archive:
        for name, content in members:
            archive.writestr(zipfile.ZipInfo(name), content, packing)
    return out.getvalue()


@dataclass(frozen=True, slots=True)
class Member:
    """A packed member and what is said of it: `size` unpacked, `check` its check sum."""

    name: bytes
    packed: bytes
    size: int
    check: int = 0
    flags: int = 0


def zeros(name: str, size: int) -> Member:
    """A member of zeros packed a thousandfold; its check sum is right."""
    block, check = bytes(1 << 20), 0
    for _ in range(size >> 20):
        check = zlib.crc32(block, check)
    return Member(name.encode(), raw_zeros(size), size, zlib.crc32(block[: size & 0xFFFFF], check))


def text(name: str, before: bytes, unit: bytes, times: int, after: bytes) -> Member:
    """A member of the same text again and again, packed block by block."""
    count = max(1, (1 << 20) // len(unit))
    whole, rest = divmod(times, count)
    block = unit * count
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    packed = packer.compress(block) + packer.flush(zlib.Z_FULL_FLUSH)
    check = zlib.crc32(before)
    for _ in range(whole):
        check = zlib.crc32(block, check)
    check = zlib.crc32(unit * rest + after, check)
    head, tail = zlib.compressobj(9, zlib.DEFLATED, -15), zlib.compressobj(9, zlib.DEFLATED, -15)
    start = head.compress(before) + head.flush(zlib.Z_FULL_FLUSH)
    end = tail.compress(unit * rest + after) + tail.flush()
    size = len(before) + len(unit) * times + len(after)
    return Member(name.encode(), start + packed * whole + end, size, check)


def by_hand(members: Sequence[Member], *, overlapping: bool = False) -> bytes:
    """A zip of packed members; `overlapping`: all of them point at the first one's bytes."""
    out, directory = bytearray(), bytearray()
    first = 0
    for member in members:
        at = first if overlapping else len(out)
        said = (20, member.flags, 8, 0, 0x21, member.check, len(member.packed), member.size)
        if not overlapping or not out:
            out += struct.pack("<4s5H3I2H", b"PK\3\4", *said, len(member.name), 0) + member.name + member.packed
        directory += struct.pack("<4s6H3I5H2I", b"PK\1\2", 20, *said, len(member.name), 0, 0, 0, 0, 0, at) + member.name
    start, count = len(out), min(len(members), 0xFFFF)
    return bytes(out + directory + struct.pack("<4s4H2IH", b"PK\5\6", 0, 0, count, count, len(directory), start, 0))
