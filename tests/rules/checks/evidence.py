"""Evidence in few words, for the tests of every kind of check."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any, TypeVar

from traveller.rules.checks.base import CountEvidence, Evidence, LoadEvidence, ReadingEvidence

NOON = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)
P = TypeVar("P")


def parsed(found: P | list[Any]) -> P:
    """Parameters that are known to be right."""
    assert not isinstance(found, list), found
    return found


def load(seconds: float | None, *, number: int = 1, pieces: int = 0, start: datetime = NOON) -> LoadEvidence:
    """A load that lasted so many seconds; None: it has not ended."""
    return LoadEvidence(number, pieces, start, None if seconds is None else start + timedelta(seconds=seconds))


def read(name: str, value: str, unit: str = "", **where: Any) -> ReadingEvidence:
    """One reading at noon unless told otherwise."""
    taken_at = where.pop("taken_at", NOON)
    return ReadingEvidence(name, Decimal(value), unit, taken_at, **where)


def with_readings(*readings: ReadingEvidence, **more: Any) -> Evidence:
    """Evidence of readings alone."""
    return Evidence(readings=readings, **more)


def good(pieces: int, arrived: int | None = None) -> CountEvidence:
    """So many good pieces."""
    return CountEvidence(arrived=pieces if arrived is None else arrived, good=pieces)
