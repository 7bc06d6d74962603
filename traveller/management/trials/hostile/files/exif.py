"""What a camera writes beside the points, in the form of a TIFF directory: how it was held, and worse."""

from __future__ import annotations

import struct

SHORT, LONG, RATIONAL = 3, 4, 5
ORIENTATION = 0x0112


def directory(entries: list[tuple[int, int, int, int]], following: int = 0, at: int = 8) -> bytes:
    """A directory of (tag, type, count, value or place), little-endian, with its head when it stands first."""
    rows = b"".join(struct.pack("<HHII", *entry) for entry in entries)
    body = struct.pack("<H", len(entries)) + rows + struct.pack("<I", following)
    return (b"II*\0" + struct.pack("<I", at) if at == 8 else b"") + body


def orientation(how: int) -> bytes:
    """The picture is to be turned."""
    return directory([(ORIENTATION, SHORT, 1, how)])


def fractions(count: int) -> bytes:
    """The picture is to be turned, and so many fractions stand beside that: each becomes an object of its own."""
    rows = [(ORIENTATION, SHORT, 1, 6), (0x9999, RATIONAL, count, 8 + 2 + 24 + 4)]
    return directory(rows) + struct.pack("<II", 7, 3) * count
