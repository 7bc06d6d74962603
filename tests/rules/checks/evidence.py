"""Evidence in few words, for the tests of every kind of check."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any, TypeVar

import numpy as np

from traveller.rules.checks.base import CountEvidence, Evidence, LoadEvidence, ReadingEvidence
from traveller.rules.logs import Answers, Log, Said
from traveller.rules.logs.found import Probe

NOON = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)
P = TypeVar("P")


def parsed(found: P | list[Any]) -> P:
    """Parameters that are known to be right."""
    assert not isinstance(found, list), found
    return found


def load(
    seconds: float | None, *, number: int = 1, pieces: int = 0, start: datetime = NOON, log: Log | None = None
) -> LoadEvidence:
    """A load that lasted so many seconds; None: it has not ended."""
    ended = None if seconds is None else start + timedelta(seconds=seconds)
    return LoadEvidence(number, pieces, start, ended, log=log)


def a_log(
    points: Iterable[tuple[float, float]], start: datetime = NOON, *, probe: Probe | None = None, every_s: float = 0.0
) -> Log:
    """A log of (seconds since the start, degrees C), oldest first; where its probe was, and its usual interval."""
    ordered = sorted(points)
    times = np.array([start.timestamp() + seconds for seconds, _ in ordered])
    said = Said(",", ".", "iso", "C", "oven", 1, ("oven",), every_s, "UTC")
    return Log(times, np.array([celsius for _, celsius in ordered], np.float64), said, answers=Answers(probe=probe))


def logged(
    points: Iterable[tuple[float, float]], seconds: float, *, probe: Probe | None = None, every_s: float = 0.0
) -> Evidence:
    """One load of so many seconds with its log."""
    return Evidence(loads=(load(seconds, log=a_log(points, probe=probe, every_s=every_s)),))


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


def flat(celsius: float, minutes: float, *, edge: float = 0.0) -> list[tuple[float, float]]:
    """A reading a minute at one temperature, and one at the end."""
    steps = [(60.0 * n, celsius) for n in range(int(minutes) + 1)]
    return [*steps, (minutes * 60 + edge, celsius)]
