"""A check against published figures is one only if it fails for others: every number of a table, moved by a share."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

__all__ = ["moved"]


def moved(published: Any, by: float = 0.02, where: str = "") -> Iterator[tuple[str, Any]]:
    """The same figures again and again, each time with one number moved up or down by that share; and which it was.

    Numbers stand in mappings, tuples and lists, as deep as they like; nothing else is touched.
    """
    if isinstance(published, Mapping):
        for name, value in published.items():
            for place, other in moved(value, by, f"{where}{name}, "):
                yield place, {**published, name: other}
    elif isinstance(published, tuple | list):
        for row, value in enumerate(published):
            for place, other in moved(value, by, f"{where}{row}, "):
                yield place, type(published)((*published[:row], other, *published[row + 1 :]))
    elif isinstance(published, int | float) and not isinstance(published, bool):
        for sign in (1, -1):
            yield f"{where}{published} moved by {sign * by:+.0%}", published * (1 + sign * by)
