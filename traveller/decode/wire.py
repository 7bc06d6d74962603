"""What goes over the pipe between asker and child: a line of JSON with the sizes, then the bytes. Never a pickle,
which would let a decoder that was taken over run code in the server."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

__all__ = ["pack", "unpack"]


def pack(head: Mapping[str, Any], blobs: Sequence[bytes]) -> bytes:
    """One message: `head` as JSON in a line, with the length of each blob, and the blobs behind it."""
    line = json.dumps({"head": head, "sizes": [len(blob) for blob in blobs]}, allow_nan=False)
    return b"".join((line.encode("ascii"), b"\n", *blobs))


def unpack(message: bytes) -> tuple[dict[str, Any], list[bytes]]:
    """The head and the blobs of a message. ValueError where it is not one, or not whole."""
    line, found, rest = message.partition(b"\n")
    told = json.loads(line) if found else None
    if not isinstance(told, dict) or not isinstance(told.get("head"), dict):
        raise ValueError("no message of a decoder")
    sizes = told.get("sizes")
    if not isinstance(sizes, list) or not all(isinstance(size, int) and size >= 0 for size in sizes):
        raise ValueError("a message without its sizes")
    if sum(sizes) != len(rest):
        raise ValueError("a message that is not whole")
    blobs, at = [], 0
    for size in sizes:
        blobs.append(rest[at : at + size])
        at += size
    return told["head"], blobs
