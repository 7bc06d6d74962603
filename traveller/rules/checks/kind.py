"""What does a kind of check declare? All that pages, papers, workbook, charts and judging ask of it.

Outside this folder no code names a kind: it asks for what is declared here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import cached_property
from typing import Any, Generic, Literal, TypeVar

from traveller.rules.checks.base import (
    Box,
    CheckFigure,
    CheckVerdict,
    Evidence,
    Judged,
    LimitWord,
    LoadEvidence,
    ParamError,
    Question,
    Scope,
    as_one_load,
    judged_by_load,
)
from traveller.rules.checks.columns import CheckCells
from traveller.rules.checks.degrees import Length
from traveller.rules.checks.fields import Field, collected
from traveller.rules.checks.limits import Limits
from traveller.rules.checks.recipes import Recipe, filled_in
from traveller.rules.cure import Rate
from traveller.rules.logs.found import Floats

__all__ = ["STEP_BEFORE", "CheckKind", "Computed", "EvidenceSource", "Heat", "Inward", "Limited", "Per", "Terms"]

# What a check may be judged from:
#   times: when a load went in and came out     log: a temperature log     readings: values that were read
#   core: a log from inside a part of a full charge
#   counts: what was counted     untested: scrap told apart that never came to the test
#   materials: lots used, when, and their last day     decisions: the founder's on a first piece
#   tries: how the tester did on the test master     ends: when steps before ended
EvidenceSource = Literal[
    "times", "log", "core", "readings", "counts", "untested", "materials", "decisions", "tries", "ends"
]
# ... and what each of them is told of.
Per = Literal["load", "step", "lot", "cavity", "piece", "shift"]
# Which way a figure is rounded so that a limit does not widen.
Inward = Literal["up", "down"]
# Of the steps whose ends are asked: the one right before.
STEP_BEFORE = 0


@dataclass(frozen=True)
class Limited:
    """One thing that a check limits, in figures with their unit: what it is called, from least to most.

    `readings` are the names of the readings that are held against it, where it is read; `target` what it should be.
    """

    name: str
    limits: Limits
    readings: tuple[str, ...] = ()
    target: Decimal | None = None


@dataclass(frozen=True, eq=False)
class Computed:
    """How hot it was in the middle of a part: UTC seconds, degrees C, and by what, as codes with their figures."""

    seconds: Floats
    celsius: Floats
    notes: tuple[str, ...]
    figures: Mapping[str, CheckFigure]


@dataclass(frozen=True)
class Heat:
    """Temperatures of a check, as a log of its step is drawn and read against them; in C or F.

    With a `rate` they are only the reference of what the heat is worth. `gap` is the longest time without a reading,
    `proves_s` the shortest time that a log has to prove. `asks_probe`: whoever sends a log has to say where its probe
    was. `middle` computes how hot it was in the middle of a part of a load, where that is to be known.
    """

    limits: Limits
    gap: Length | None = None
    rate: Rate | None = None
    proves_s: float | None = None
    asks_probe: bool = False
    middle: Callable[[LoadEvidence], Computed | None] | None = None


@dataclass(frozen=True)
class Terms:
    """What a check asks of its evidence by its parameters: nothing unless it says so.

    `ends`: the steps whose ends it is judged by (STEP_BEFORE: the one right before). `test`: the name of the test whose
    tester is tried on a test master. `every_cavity`: each open one is measured before a first piece is approved;
    `lapse_days`: an approval lapses after so many days without production; `cap`: pieces before it.
    """

    ends: frozenset[int] = frozenset()
    test: str = ""
    every_cavity: bool = False
    lapse_days: int | None = None
    cap: int | None = None


P = TypeVar("P")


def _no_terms(params: Any) -> Terms:
    return Terms()


def _no_limits(params: Any) -> tuple[Limited, ...]:
    return ()


def _no_timer(params: Any) -> int | None:
    return None


def _as_many_as_wanted(params: Any, evidence: Evidence) -> int | None:
    return None


def _no_heat(params: Any) -> Heat | None:
    return None


@dataclass(frozen=True)
class CheckKind(Generic[P]):
    """One kind of check: what it reads, asks, prints, needs and decides.

    `title` and `about` say what it is and what it proves, `order` where it stands among the kinds, `example` is a row
    as a founder types it. `build` makes the parameters of what the fields read, and names in the row what does not
    fit together; it gives None then. `limits` are its figures; `charted` picks the one that is drawn as a chart.
    `timer`: the seconds that somebody has to wait at least, None where no clock tells them. `heat`: what a log is drawn
    against. `allowed`: how many more pieces may be made as the evidence stands, None: as many as are wanted. `inward`:
    of its own sentences about limits, which figures are turned into the other system's unit, and which way they are
    rounded. `recipes`: starting values by the name in the column recipe. `by_load` says that `judge_evidence` already
    judges load by load (times); the other kinds look at the step as a whole and are asked once per load when the
    check's scope is the load.
    """

    name: str
    order: int
    title: str
    about: str
    fields: tuple[Field, ...]
    example: Mapping[str, str]
    scopes: tuple[Scope, ...]
    needs: Mapping[EvidenceSource, Per]
    build: Callable[[CheckCells, Mapping[str, Any]], P | None]
    questions: Callable[[P], tuple[Question, ...]]
    boxes: Callable[[P, Sequence[int]], tuple[Box, ...]]
    limit_words: Callable[[P], list[LimitWord]]
    judge_evidence: Callable[[P, Evidence], Judged]
    words: Mapping[str, str]
    limits: Callable[[P], tuple[Limited, ...]] = _no_limits
    charted: Callable[[P], Limited] | None = None
    terms: Callable[[P], Terms] = _no_terms
    timer: Callable[[P], int | None] = _no_timer
    heat: Callable[[P], Heat | None] = _no_heat
    allowed: Callable[[P, Evidence], int | None] = _as_many_as_wanted
    inward: Mapping[str, Mapping[str, Inward]] = field(default_factory=dict)
    by_load: bool = False
    recipes: Mapping[str, Recipe] = field(default_factory=dict)

    @cached_property
    def columns(self) -> tuple[str, ...]:
        """The workbook's columns that it reads, in order."""
        return tuple(one.name for one in self.fields)

    def parse(self, raw: Mapping[str, str]) -> P | list[ParamError]:
        """The parameters of a row by column, or all that cannot be used in it."""
        row, found = collected(self.fields, filled_in(self.recipes, raw))
        params = self.build(row, found)
        if row.errors:
            return row.errors
        if params is None:
            raise ValueError(f"{self.name}: nothing was built of {dict(raw)}, and nothing said why")
        return params

    def dump(self, params: P) -> dict[str, str]:
        """The row again, by column."""
        return {one.name: one.written(params) for one in self.fields}

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

        def judge_load(load: LoadEvidence) -> CheckVerdict:
            own = tuple(reading for reading in evidence.readings if reading.load == load.number)
            verdict = self.judge_evidence(params, replace(evidence, loads=(load,), readings=own)).step
            return replace(verdict, figures={**verdict.figures, "load": load.number})

        return judged_by_load(evidence, judge_load)
