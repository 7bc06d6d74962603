"""Where a column's value lives in the database, and how it is written there: what export and import walk."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from operator import attrgetter
from typing import Any, Final

__all__ = [
    "Ids",
    "Stored",
    "at",
    "counted_in",
    "each_word",
    "part_at",
    "percent_written",
    "percentage",
    "site_at",
    "with_others",
]

# Codes of UN/ECE Recommendation 20 as a sheet writes them.
_UNIT_WORD: Final[Mapping[str, str]] = {"C62": "piece", "GRM": "g", "MGM": "mg", "MMT": "mm", "MLT": "ml"}
_UNIT_CODE: Final = {word: code for code, word in _UNIT_WORD.items()}


@dataclass(frozen=True, slots=True)
class Ids:
    """What a row's references become in the database: ids of sites by code, of parts by number."""

    sites: Mapping[str, int]
    parts: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Stored:
    """One value's place: `attribute` of a model keeps it.

    `load` takes it from what the sheet's source gives (see `sources`), in the form that the sheet's row has.
    `store` makes of a row's value what is written as `writes`; where `writes` is empty, the sheet's own writer does
    it, together with other columns.
    """

    attribute: str
    load: Callable[[Any], object]
    writes: str = ""
    store: Callable[[Any, Ids], object] = lambda value, ids: value


def _as_it_is(value: Any) -> object:
    return value


def at(path: str, store: Callable[[Any], object] = _as_it_is, load: Callable[[Any], object] = _as_it_is) -> Stored:
    """At an attribute, or at one of a related row: `order.customer`. `store` and `load` turn the value round."""
    read = attrgetter(path)
    return Stored(_last(path), lambda row: load(read(row)), path, lambda value, ids: store(value))


def with_others(path: str, load: Callable[[Any], object] | None = None, attribute: str = "") -> Stored:
    """Read here; written with another column, or by what the row stands under. `attribute`: where it ends up."""
    return Stored(attribute or _last(path), load or attrgetter(path))


def percentage(path: str) -> Stored:
    """Per cent in the sheet, parts per million in the database; None stays None."""
    read = attrgetter(path)

    def load(row: Any) -> object:
        ppm = read(row)
        return None if ppm is None else percent_written(ppm)

    return Stored(_last(path), load, path, lambda value, ids: None if value is None else int(value * 10_000))


def percent_written(ppm: int) -> Decimal:
    """Parts per million as a percentage."""
    return Decimal(ppm) / 10_000


def site_at(path: str) -> Stored:
    """A site by its code; an empty cell is none."""
    return _reference(path, "code", lambda ids: ids.sites)


def part_at(path: str) -> Stored:
    """A part by its number."""
    return _reference(path, "number", lambda ids: ids.parts)


def _reference(path: str, name: str, among: Callable[[Ids], Mapping[str, int]]) -> Stored:
    read = attrgetter(path)

    def load(row: Any) -> object:
        found = read(row)
        return "" if found is None else getattr(found, name)

    return Stored(_last(path), load, f"{path}_id", lambda value, ids: among(ids)[value] if value else None)


def counted_in(path: str, writes: str = "") -> Stored:
    """A base unit: a word in the sheet, its code in the database."""
    read = attrgetter(path)
    return Stored(_last(path), lambda row: _UNIT_WORD[read(row)], writes, lambda value, ids: _UNIT_CODE[value])


def each_word(path: str) -> Stored:
    """A list of words: a tuple in the row, a JSON list in the database."""
    read = attrgetter(path)
    return Stored(_last(path), lambda row: tuple(read(row)), path, lambda value, ids: list(value))


def _last(path: str) -> str:
    return path.rpartition(".")[2]
