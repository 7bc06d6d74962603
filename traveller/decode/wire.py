"""What goes over the pipe between asker and child: a line of JSON with the sizes, then the bytes. Never a pickle,
which would let a decoder that was taken over run code in the server."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Mapping, Sequence
from typing import Any

__all__ = ["message", "packed_message", "unpack", "unpack_kept"]


def message(head: Mapping[str, Any], blobs: Sequence[bytes]) -> list[bytes]:
    """One message in pieces, to be written one after the other: `head` as JSON in a line, with the length of each
    blob, then the blobs themselves, of which none is copied."""
    line = json.dumps({"head": head, "sizes": [len(blob) for blob in blobs]}, allow_nan=False)
    return [line.encode("ascii") + b"\n", *blobs]


def packed_message(head: Mapping[str, Any], blobs: Sequence[bytes]) -> bytes:
    """The same in one piece, to be kept."""
    return b"".join(message(head, blobs))


def unpack(line: bytes, read: Callable[[int], bytes]) -> tuple[dict[str, Any], list[bytes]]:
    """The head and the blobs of a message, whose first line was read already; `read(n)` gives the next n bytes, fewer
    only where there are no more. ValueError where it is not one, or not whole."""
    found = json.loads(line) if line.endswith(b"\n") else None
    if not isinstance(found, dict) or not isinstance(found.get("head"), dict):
        raise ValueError("no message of a decoder")
    sizes = found.get("sizes")
    if not isinstance(sizes, list) or not all(isinstance(size, int) and size >= 0 for size in sizes):
        raise ValueError("a message without its sizes")
    blobs = [read(size) for size in sizes]
    if [len(blob) for blob in blobs] != sizes or read(1):
        raise ValueError("a message that is not whole")
    return found["head"], blobs


def unpack_kept(content: bytes) -> tuple[dict[str, Any], list[bytes]]:
    """The head and the blobs of what `pack` made. ValueError where it is not that."""
    whole = io.BytesIO(content)
    return unpack(whole.readline(), whole.read)
