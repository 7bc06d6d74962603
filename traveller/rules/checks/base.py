"""What every kind of check shares: evidence in, a verdict of code and figures out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal, InvalidOperation
from typing import ClassVar, Generic, Literal, TypeAlias, TypeVar

from traveller.rules.logs.found import Log
from traveller.rules.shift_periods import Period

__all__ = [
    "LOAD_WORDS",
    "ApprovalEvidence",
    "Blocks",
    "Box",
    "CheckKind",
    "CountEvidence",
    "Evidence",
    "Figure",
    "Judged",
    "LimitWord",
    "LoadEvidence",
    "MadeWith",
    "MaterialEvidence",
    "Outcome",
    "ParamError",
    "Purpose",
    "Question",
    "ReadingEvidence",
    "Scope",
    "TestedEvidence",
    "Verdict",
    "as_one_load",
    "blocks_purpose",
    "coverage",
    "elapsed",
    "judged_by_load",
    "worst",
]

Outcome = Literal["passed", "failed", "missing"]
Scope = Literal["load", "step", "lot", "piece"]
Blocks = Literal["step", "sending", "consuming", "packing", "nothing"]
Purpose = Literal["step", "sending", "consuming", "packing"]

Figure: TypeAlias = int | str | list[str] | dict[str, int]
LimitWord: TypeAlias = tuple[str, Mapping[str, Figure]]

# In the order in which goods meet them: what stops early stops all that comes later.
_ORDER: tuple[Purpose, ...] = ("step", "sending", "consuming", "packing")
# 1E+999999 typed by a slip would take an exact fraction minutes to build.
_DIGITS_MAX = 30
_WEIGHT: Mapping[Outcome, int] = {"passed": 0, "missing": 1, "failed": 2}


def blocks_purpose(blocks: Blocks, purpose: Purpose) -> bool:
    """Whether a check that blocks `blocks` stands in the way of `purpose`; advice stands in no way."""
    return blocks != "nothing" and _ORDER.index(blocks) <= _ORDER.index(purpose)


def elapsed(start: datetime, end: datetime) -> timedelta:
    """True time between two aware times, right across midnight, clock changes and zones.

    Python subtracts two times of one zone by their wall clocks, so both are taken to UTC first.
    """
    return end.astimezone(UTC) - start.astimezone(UTC)


def _must_be_aware(moment: datetime | None) -> None:
    if moment is not None and moment.utcoffset() is None:
        raise ValueError(f"{moment!r} has no time zone")


@dataclass(frozen=True)
class Verdict:
    """An outcome, the code of its sentence (see each kind's WORDS) and the figures in that sentence."""

    outcome: Outcome
    code: str
    figures: Mapping[str, Figure] = field(default_factory=dict)


def worst(verdicts: Iterable[Verdict]) -> Verdict | None:
    """The first of the gravest: failed before missing before passed."""
    found: Verdict | None = None
    for verdict in verdicts:
        if found is None or _WEIGHT[verdict.outcome] > _WEIGHT[found.outcome]:
            found = verdict
    return found


@dataclass(frozen=True)
class Judged:
    """The verdict on the whole step, and on each of its loads by number where loads are judged."""

    step: Verdict
    by_load: Mapping[int, Verdict] = field(default_factory=dict)


@dataclass(frozen=True)
class LoadEvidence:
    """One load: its pieces, when it went in and came out, why the times were typed late, if so, and its log."""

    number: int
    quantity: int
    started_at: datetime | None
    ended_at: datetime | None
    late_reason: str = ""
    log: Log | None = None

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
    """What a first-off is approved for, and what the step is run with now; empty: nobody said.

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
    """A decision on a first-off: when, yes or no, for what, and when it was last run so before this step.

    `measured` are the cavities from which something had been measured by then; `elsewhere`: the decision was
    taken in another batch of the same operation, whose first-off it was.
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
    `made_since` are the pieces told of since what the step is run with last changed, or since its first-off
    was refused; None: neither happened, so all that was counted. `tested` says when pieces were tested, `tries`
    how the tester did on the known leak, whichever batch it was told with, `periods` are the site's shifts then.
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


LOAD_WORDS: Mapping[str, str] = {
    "loads.none": "No load was recorded.",
    "loads.uncovered": "{counted} pieces were counted, but the loads hold only {covered}.",
    "loads.all_passed": "Every load passed (loads: {loads}).",
}
NO_LOADS = Verdict("missing", "loads.none")


def coverage(evidence: Evidence) -> Verdict | None:
    """What is missing when pieces were counted that no load holds, or when there is no load at all."""
    if not evidence.loads:
        return NO_LOADS
    covered = sum(load.quantity for load in evidence.loads if load.ended_at or evidence.said_done)
    if covered < evidence.counts.counted:
        figures: dict[str, Figure] = {"counted": evidence.counts.counted, "covered": covered}
        return Verdict("missing", "loads.uncovered", figures)
    return None


def judged_by_load(evidence: Evidence, judge_load: Callable[[LoadEvidence], Verdict]) -> Judged:
    """Each load by itself; the step is as good as its worst load, and lacks what no load covers.

    A load that is still in says nothing against the pieces that came out of others and may be sent ahead: until
    the step is said to be done, its missing end does not count, and neither does it cover any piece.
    """
    by_load = {load.number: judge_load(load) for load in evidence.loads}
    still_in = {load.number for load in evidence.loads if load.ended_at is None and not evidence.said_done}
    weighed = [v for number, v in by_load.items() if number not in still_in or v.outcome == "failed"]
    cover = coverage(evidence)
    gravest = worst([*(weighed or by_load.values()), *([cover] if cover else [])]) or NO_LOADS
    if gravest.outcome == "passed" and len(weighed) > 1:
        gravest = Verdict("passed", "loads.all_passed", {"loads": len(weighed)})
    return Judged(gravest, by_load)


def as_one_load(evidence: Evidence) -> Evidence:
    """The same evidence with its loads taken as one, from the first start to the last end."""
    if not evidence.loads:
        return evidence
    starts = [load.started_at for load in evidence.loads]
    ends = [load.ended_at for load in evidence.loads]
    known_starts = [moment.astimezone(UTC) for moment in starts if moment is not None]
    known_ends = [moment.astimezone(UTC) for moment in ends if moment is not None]
    # One load without a time leaves the whole step without that time: nothing is guessed.
    whole = LoadEvidence(
        number=0,
        quantity=sum(load.quantity for load in evidence.loads),
        started_at=min(known_starts) if len(known_starts) == len(starts) else None,
        ended_at=max(known_ends) if len(known_ends) == len(ends) else None,
        late_reason="; ".join(load.late_reason for load in evidence.loads if load.late_reason),
    )
    return replace(evidence, loads=(whole,))


@dataclass(frozen=True)
class Question:
    """What the page asks: `count` answers for each step, load, cavity or piece; limits as decimals."""

    name: str
    prompt_code: str
    unit: str
    kind: Literal["number", "time", "choice", "text", "tick", "log"]
    low: str | None
    high: str | None
    each: Literal["step", "load", "cavity", "piece"]
    count: int = 1


@dataclass(frozen=True)
class Box:
    """A box to write in on paper: its English label, its unit, its width in characters."""

    label: str
    unit: str
    width: int


@dataclass(frozen=True)
class ParamError:
    """A column of the workbook's row that cannot be understood, and what would be right."""

    column: str
    found: str
    wanted: str


P = TypeVar("P")


@dataclass(frozen=True)
class CheckKind(Generic[P]):
    """One kind of check: what it asks, prints and decides.

    `by_load` says that `judge_evidence` already judges load by load (times); the other kinds look at
    the step as a whole and are asked once per load when the check's scope is the load.
    """

    name: str
    columns: tuple[str, ...]
    scopes: tuple[Scope, ...]
    parse: Callable[[Mapping[str, str]], P | list[ParamError]]
    dump: Callable[[P], dict[str, str]]
    questions: Callable[[P], tuple[Question, ...]]
    boxes: Callable[[P, Sequence[int]], tuple[Box, ...]]
    limit_words: Callable[[P], list[LimitWord]]
    judge_evidence: Callable[[P, Evidence], Judged]
    words: Mapping[str, str]
    by_load: bool = False

    def judge(self, params: P, evidence: Evidence, scope: Scope | None = None) -> Judged:
        """The verdict on `evidence`; `scope` is what the check's row says, by default the kind's own way."""
        if scope is not None and scope not in self.scopes:
            raise ValueError(f"a {self.name} check cannot be judged per {scope}")
        if self.by_load and scope == "step":
            return Judged(self.judge_evidence(params, as_one_load(evidence)).step)
        if not self.by_load and scope == "load":
            return self._judge_each_load(params, evidence)
        return self.judge_evidence(params, evidence)

    def _judge_each_load(self, params: P, evidence: Evidence) -> Judged:
        """One asking per load: a reading that names no load proves none."""

        def judge_load(load: LoadEvidence) -> Verdict:
            own = tuple(reading for reading in evidence.readings if reading.load == load.number)
            verdict = self.judge_evidence(params, replace(evidence, loads=(load,), readings=own)).step
            return replace(verdict, figures={**verdict.figures, "load": load.number})

        return judged_by_load(evidence, judge_load)
