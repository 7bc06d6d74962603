"""Sixteen writers at one lot: reading and then writing never loses an update."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

from django.db import connection

from tests.bench.figures import Figure, Size
from tests.globe import TESTING, Globe, make_globe, ok
from traveller.batches.actions.report import report
from traveller.batches.models import Count
from traveller.ledger.models import Condition

WRITERS = 16
EACH: dict[Size, int] = {"tiny": 2, "quick": 10, "full": 40}


def measure(size: Size) -> list[Figure]:
    each = EACH[size]
    reported = WRITERS * each
    globe = make_globe(checks={40: (TESTING,)}, start=reported)
    globe.report(20, reported, done=True)
    globe.report(30, reported, done=True)
    globe.moved(reported)
    race(globe, 40, each)
    kept = min(sums(globe, 40))
    return [
        Figure(
            f"{WRITERS} writers on one lot, PostgreSQL: share of counts kept",
            kept / reported,
            "at least",
            1.0,
            notes=f"{reported} reports of one piece each; by step, by ledger and by counts: {sums(globe, 40)}",
        )
    ]


def race(globe: Globe, number: int, each: int) -> None:
    """Every writer reports one piece at a time, all at the same moment."""
    step = globe.step(number).pk
    event_contexts = [[globe.event_context() for _ in range(each)] for _ in range(WRITERS)]

    def writer(turn: int) -> Callable[[], None]:
        def write() -> None:
            try:
                for event_context in event_contexts[turn]:
                    ok(report(event_context=event_context, step_id=step, good=1))
            finally:
                connection.close()

        return write

    with ThreadPoolExecutor(WRITERS) as pool:
        for done in [pool.submit(writer(turn)) for turn in range(WRITERS)]:
            done.result()


def sums(globe: Globe, number: int) -> tuple[int, int, int]:
    """Pieces reported at step 40 as its totals, the ledger and the counts have them."""
    step = globe.step(number)
    landed = globe.at(globe.bench, Condition.IN_PROCESS, 50)
    return step.good, landed, sum(Count.objects.filter(step=step).values_list("good", flat=True))
