"""What is known of a kind of hostile file, and the list of them all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from random import Random
from typing import Literal

_Reader = Literal["picture", "pdf", "log", "workbook", "json", "form"]
Make = Callable[[Random, float], bytes]


@dataclass(frozen=True)
class Hostile:
    """`reader`: the bare decoder that it is meant for; `known`: it was found against an earlier release."""

    name: str
    words: str
    reader: _Reader
    suffix: str
    known: bool
    make: Make


HOSTILE_KINDS: dict[str, Hostile] = {}


def hostile(reader: _Reader, suffix: str, *, known: bool = False) -> Callable[[Make], Make]:
    """Put a maker on the list: its name becomes the file's, its docstring says what it is."""

    def decorate(make: Make) -> Make:
        name = make.__name__.replace("_", "-")
        if name in HOSTILE_KINDS:
            raise ValueError(f"two hostile files are called {name}")
        words = (make.__doc__ or "").strip().rstrip(".")
        HOSTILE_KINDS[name] = Hostile(name, words, reader, suffix, known, make)
        return make

    return decorate


def some(scale: float, whole: int, least: int = 1) -> int:
    """So many of `whole` at this scale."""
    return max(least, int(whole * scale))


def side(scale: float, whole: int) -> int:
    """The side of a square picture: its area goes with the scale."""
    return max(8, int(whole * scale**0.5))
