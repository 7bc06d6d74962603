"""Recording a count: journal, state, verdict, ledger, against the same rows as bare SQL."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests import factory
from tests.bench.by_hand import ByHand, rows_by_table
from tests.bench.figures import Figure, Rounds, Size, in_turns
from tests.globe import TESTING, Globe, make_globe, ok
from traveller.batches.actions.report import report
from traveller.batches.models import Step

ROUNDS: dict[Size, int] = {"tiny": 1, "quick": 7, "full": 21}
REPORTS: dict[Size, int] = {"tiny": 3, "quick": 20, "full": 40}
TARGET = {"sqlite": 0.35, "postgresql": 0.5}
NAMES = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}


@dataclass(frozen=True, slots=True)
class Kind:
    """A step to count at, and whether an every-piece test is judged there."""

    words: str
    number: int
    judged: bool


KINDS = (Kind("with an every-piece test", 40, True), Kind("without a check", 50, False))


def measure(size: Size) -> list[Figure]:
    globe = make_globe(checks={40: (TESTING,)}, start=100_000)
    globe.report(20, 100_000, done=True)
    globe.report(30, 100_000, done=True)
    globe.moved(100_000)
    # So that step 50 has pieces to count, as step 40 has.
    globe.report(40, 50_000)
    return [_figure(globe, kind, size) for kind in KINDS]


def _figure(globe: Globe, kind: Kind, size: Size) -> Figure:
    step = globe.step(kind.number)
    for _ in range(2):  # the first fills what is read once per process
        _telling(globe, step)()
    statements = _statements(_telling(globe, step))
    by_hand = ByHand(Step.objects.select_related("batch").get(pk=step.pk), kind.judged, factory.MONDAY)
    _same_rows(_telling(globe, step), by_hand.doing())
    by_hand = ByHand(by_hand.step, kind.judged, factory.MONDAY)
    rounds: Rounds = in_turns(
        ROUNDS[size],
        lambda turn: [_telling(globe, step) for _ in range(REPORTS[size])],
        lambda turn: [by_hand.doing() for _ in range(REPORTS[size])],
    )
    written = 12 if kind.judged else 8
    return Figure(
        f"recording a count {kind.words}, {NAMES[connection.vendor]}",
        rounds.rate_ratio(),
        "at least",
        TARGET[connection.vendor],
        notes=(
            f"{statements} statements (floor {written}); {rounds.reported()} (ratio {rounds.rate_ratio(cpu=True):.2f})"
        ),
    )


def _telling(globe: Globe, step: Step) -> Callable[[], object]:
    event_context = globe.event_context(factory.MONDAY)
    return lambda: ok(report(event_context=event_context, step_id=step.pk, good=1))


def _statements(do: Callable[[], object]) -> int:
    """Statements of one report, without beginning and committing."""
    with CaptureQueriesContext(connection) as reported:
        do()
    return sum(not query["sql"].startswith(("BEGIN", "COMMIT")) for query in reported.captured_queries)


def _same_rows(ours: Callable[[], object], floor: Callable[[], object]) -> None:
    """The floor writes as many rows of each kind as a report does, or the ratio would mean nothing."""
    counts = [rows_by_table()]
    for do in (ours, floor):
        do()
        counts.append(rows_by_table())
    written = [{name: after[name] - before[name] for name in after} for before, after in pairwise(counts)]
    assert written[0] == written[1], written
