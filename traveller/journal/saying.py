"""A refusal in words for rooms below those that have the sentences: these hand in how they say one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from traveller.journal.refusal import Refusal

__all__ = ["said", "say_by"]

Say = Callable[[str, Mapping[str, Any] | None], str]
_say: list[Say] = []


def say_by(say: Say) -> None:
    """Whoever has the sentences gives the function that finds one for a code and its figures; the last one counts."""
    _say[:] = [say]


def said(refusal: Refusal) -> str:
    """The sentence of a refusal; its code where nobody has handed in any words."""
    return _say[0](refusal.code, refusal.figures) if _say else refusal.code
