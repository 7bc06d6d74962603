"""Strangers' bytes are read in a child; what came of it that is no answer becomes words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.conf import settings

from traveller.decode import Undecoded, decode
from traveller.decode.book.bounds import BookRefused

__all__ = ["ask_child", "decode"]

_WORDS = {
    "busy": ("waits behind other files that are being read", "try it again in a minute"),
    "too_slow": ("takes too long to read", "copy its rows into a new workbook, or split it"),
    "too_large": ("takes too much memory to read", "copy its rows into a new workbook, or split it"),
    "ended": ("was cut short while it was read, by no fault of the file", "try it again"),
    "unreadable": ("cannot be read", "save it again from the spreadsheet"),
}


def ask_child(blobs: Sequence[bytes], asked: Mapping[str, Any], shown: str) -> tuple[dict[str, Any], list[bytes]]:
    """Facts and blobs of the kind "book". Raises Refused where nothing came of it, or the child refused."""
    answer = decode("book", blobs, asked, place=settings.DECODE_PLACE)
    if isinstance(answer, Undecoded):
        raise BookRefused(shown, *_WORDS[answer.why])
    if refused := answer.facts.get("refused"):
        raise BookRefused(*refused)
    return answer.facts, answer.blobs
