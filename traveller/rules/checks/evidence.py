"""What is known about a step, as the rules want to see it: loads, readings, counts, materials, decisions, tests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from decimal import Decimal, InvalidOperation
from typing import ClassVar

from traveller.rules.logs.found import Log
from traveller.rules.shift_periods import Period

__all__ = [
    "ApprovalEvidence",
    "CoreEvidence",
    "CountEvidence",
    "Evidence",
    "LoadEvidence",
    "MadeWith",
    "MaterialEvidence",
    "ReadingEvidence",
    "TestedEvidence",
]

# 1E+999999 typed by a slip would take an exact fraction minutes to build.
_DIGITS_MAX = 30


def _must_be_aware(moment: datetime | None) -> None:
    if moment is not None and moment.utcoffset() is None:
        raise ValueError(f"{moment!r} has no time zone")


@dataclass(frozen=True, eq=False)
class CoreEvidence:
    """A log from inside a part of a full charge, beside the log of the air of that load: how well the air heats it.

    `name` is the file's, `batch` and `number` say which load it was, `pieces` how many were in it.
    """

    core: Log
    air: Log
    started_at: datetime
    ended_at: datetime
    pieces: int
    name: str = ""
    batch: str = ""
    number: int = 1

    def __post_init__(self) -> None:
        _must_be_aware(self.started_at)
        _must_be_aware(self.ended_at)


@dataclass(frozen=True)
class LoadEvidence:
    """One load: its pieces, when it went in and came out, why the times were typed late, if so, and its log.

    `core` is the newest log from inside a part of a charge of the same part, where one was sent, in the same oven.
    """

    number: int
    quantity: int
    started_at: datetime | None
    ended_at: datetime | None
    late_reason: str = ""
    log: Log | None = None
    core: CoreEvidence | None = None
    # A log was sent, and what nobody can know from it alone is not answered yet.
    log_asked: bool = False

    def __post_init__(self) -> None:
        _must_be_aware(self.started_at)
        _must_be_aware(self.ended_at)


@dataclass(frozen=True)
class ReadingEvidence:
    """One value that was read; `text` is what was tapped, scanned or typed, needed where it is no number."""

    name: str
    value: Decimal
    unit: str
    taken_at: datetime
    load: int | None = None
    cavity: int | None = None
    piece: int | None = None
    text: str = ""

    def __post_init__(self) -> None:
        _must_be_aware(self.taken_at)

    @property
    def number(self) -> Decimal | None:
        """The value, or None where words stand in a number's place or the number is beyond any gauge."""
        if not self.value.is_finite() or abs(self.value.adjusted()) > _DIGITS_MAX:
            return None
        if not self.text.strip():
            return self.value
        try:
            return self.value if Decimal(self.text.strip().replace(",", ".")) == self.value else None
        except InvalidOperation:
            return None


@dataclass(frozen=True)
class CountEvidence:
    """What was counted at the step; `scrap` includes `scrap_before`, retests are told apart."""

    arrived: int = 0
    good: int = 0
    scrap: int = 0
    rework: int = 0
    samples: int = 0
    scrap_before: int = 0
    retested: int = 0
    by_reason: Mapping[str, int] = field(default_factory=dict)

    @property
    def counted(self) -> int:
        """Pieces told of at the step, whatever became of them."""
        return self.good + self.scrap + self.rework + self.samples


@dataclass(frozen=True)
class TestedEvidence:
    """Pieces that were tested at some time up to `until`: since the telling before, or since their load went in.

    `opens`: nothing was told before, so `since` is when the step was started.
    """

    # Its name begins as those of tests do; it is none.
    __test__: ClassVar[bool] = False

    since: datetime | None
    until: datetime
    pieces: int
    load: int | None = None
    opens: bool = False

    def __post_init__(self) -> None:
        _must_be_aware(self.since)
        _must_be_aware(self.until)


@dataclass(frozen=True)
class MaterialEvidence:
    """A lot that was used: its last day, when it was mixed and (last) used, and the degrees C it lay at.

    `used_at` in the site's zone: the day of use is the day there.
    """

    lot: str
    kind: str
    expires_on: date | None
    mixed_at: datetime | None
    used_at: datetime
    temperature_c: Decimal | None = None

    def __post_init__(self) -> None:
        _must_be_aware(self.mixed_at)
        _must_be_aware(self.used_at)


@dataclass(frozen=True)
class MadeWith:
    """What a first piece is approved for, and what the step is run with now; empty: nobody said.

    `machines` are all that the step's loads were put into: one that was approved among others is no new one.
    """

    design: str = ""
    tool: str = ""
    cavities: tuple[int, ...] = ()
    material: str = ""
    place: str = ""
    machines: tuple[str, ...] = ()


@dataclass(frozen=True)
class ApprovalEvidence:
    """A decision on a first piece: when, yes or no, for what, and when it was last run so before this step.

    `measured` are the cavities from which something had been measured by then; `elsewhere`: the decision was
    taken in another batch of the same operation, whose first piece it was.
    """

    decided_at: datetime
    approved: bool
    made_with: MadeWith
    last_run_at: datetime | None = None
    measured: tuple[int, ...] = ()
    elsewhere: bool = False

    def __post_init__(self) -> None:
        _must_be_aware(self.decided_at)
        _must_be_aware(self.last_run_at)


@dataclass(frozen=True)
class Evidence:
    """All that is known about a step when its check is judged.

    `previous_ended_at` is the end of the step before (of its last load), `previous_first_ended_at` the
    end of its first load where it had several; `ends` the same (first load, last load) of steps further back, by
    number; `started_at` the start of a step without loads.
    `made_since` are the pieces told of since what the step is run with last changed, or since its first piece
    was refused; None: neither happened, so all that was counted. `tested` says when pieces were tested, `tries`
    how the tester did on the test master, whichever batch it was told with, `periods` are the site's shifts then.
    """

    loads: tuple[LoadEvidence, ...] = ()
    readings: tuple[ReadingEvidence, ...] = ()
    counts: CountEvidence = CountEvidence()
    said_done: bool = False
    open_cavities: tuple[int, ...] = ()
    previous_ended_at: datetime | None = None
    previous_first_ended_at: datetime | None = None
    started_at: datetime | None = None
    materials: tuple[MaterialEvidence, ...] = ()
    ends: Mapping[int, tuple[datetime | None, datetime | None]] = field(default_factory=dict)
    made_with: MadeWith = MadeWith()
    approvals: tuple[ApprovalEvidence, ...] = ()
    made_since: int | None = None
    tested: tuple[TestedEvidence, ...] = ()
    tries: tuple[ReadingEvidence, ...] = ()
    periods: tuple[Period, ...] = ()

    def __post_init__(self) -> None:
        for moment in (self.previous_ended_at, self.previous_first_ended_at, self.started_at):
            _must_be_aware(moment)

    def named(self, name: str) -> tuple[ReadingEvidence, ...]:
        """The readings of that name, oldest first."""
        found = [reading for reading in self.readings if reading.name == name]
        return tuple(sorted(found, key=lambda reading: reading.taken_at.astimezone(UTC)))
