"""Which kinds of event there are. Each room declares its own at start-up; an unknown kind is a fault."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Nature = Literal["news", "request"]


@dataclass(frozen=True, slots=True)
class _Kind:
    """News is what already happened and is always taken; a request asked for permission and got it."""

    name: str
    nature: Nature
    room: str


_kinds: dict[str, _Kind] = {}


def declare(room: str, *, news: tuple[str, ...] = (), requests: tuple[str, ...] = ()) -> None:
    """Make kinds of event known; the same name by two rooms is a fault."""
    natures: tuple[tuple[Nature, tuple[str, ...]], ...] = (("news", news), ("request", requests))
    for nature, names in natures:
        for name in names:
            known = _kinds.get(name)
            if known and known.room != room:
                raise ValueError(f"event kind {name!r} is already declared by {known.room}")
            _kinds[name] = _Kind(name, nature, room)


def kind(name: str) -> _Kind:
    return _kinds[name]


def all_kinds() -> tuple[_Kind, ...]:
    return tuple(_kinds.values())
