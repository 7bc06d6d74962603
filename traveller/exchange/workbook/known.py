"""What is known before a workbook is read: references may point at it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class KnownPart:
    """A part as far as other sheets need it: `unit` as a sheet writes it (piece, g, mg, mm, ml)."""

    kind: str
    unit: str
    steps: Mapping[int, str] = field(default_factory=dict)
    """Site code by step number."""
    components: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    """What it may be called by where a variant is confirmed: its variant, colour and revision."""


@dataclass(frozen=True, slots=True)
class Known:
    """Sites by code with their kind, parts by number, order lines."""

    sites: Mapping[str, str] = field(default_factory=dict)
    parts: Mapping[str, KnownPart] = field(default_factory=dict)
    order_lines: Mapping[tuple[str, int], str] = field(default_factory=dict)
    """Part number by order and line."""
    lanes: frozenset[tuple[str, str]] = frozenset()
    people: Mapping[tuple[str, str], Sequence[str]] = field(default_factory=dict)
    """How a person's name is written, by site code and what all spellings of it have in common; several where an
    earlier release took two spellings for two people."""
