"""What a line graph is told: sites down, days across, one trip a batch."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, tzinfo


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


@dataclass(frozen=True)
class Point:
    """Where a batch was at a moment (site by its place in the list), and its good pieces from then on."""

    at: datetime
    site: int
    good: int


@dataclass(frozen=True)
class LineEvent:
    """Something that happened to pieces of a batch at a site, with the words to set beside it."""

    at: datetime
    site: int
    words: str


@dataclass(frozen=True)
class Silence:
    """A time from which nothing was heard of the batch."""

    start: datetime
    end: datetime


@dataclass(frozen=True)
class Trip:
    """A batch's way. `branch_of` and `joins` name the key of the trip it leaves or runs into.

    A trip that has not `ended` runs on to now where it last was; forecast points go on from its last point.
    """

    key: str
    label: str
    points: tuple[Point, ...]
    forecast: tuple[Point, ...] = ()
    scraps: tuple[LineEvent, ...] = ()
    holds: tuple[LineEvent, ...] = ()
    silences: tuple[Silence, ...] = ()
    branch_of: str | None = None
    joins: str | None = None
    ended: bool = False
    short: str = ""


@dataclass(frozen=True)
class Words:
    """What the drawing says; English unless the page brings its own."""

    now: str = "now"
    promised: str = "promised {day}"
    silent: str = "not heard"
    day: Callable[[date], str] = _day


@dataclass(frozen=True)
class LineGraph:
    """The whole graph; the sentence is read out in its place; `heard` stands under each site's name."""

    sites: tuple[str, ...]
    trips: tuple[Trip, ...]
    now: datetime
    sentence: str
    promise: datetime | None = None
    heard: tuple[str, ...] = ()
    closed: frozenset[date] = frozenset()
    zone: tzinfo = UTC
    words: Words = field(default_factory=Words)
