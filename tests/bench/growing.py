"""Pages as the shop grows: as many queries for 2,000 open batches as for 10, and no slower for years of history."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from statistics import median

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests import cast, factory
from tests.bench.figures import Figure, Size
from tests.bench.filling import copy, rows_of
from tests.bench.recording import NAMES
from tests.globe import TESTING, Globe, make_globe
from traveller.batches.models import Batch
from traveller.journal.models import Event
from traveller.ledger.models import Condition
from traveller.ledger.post import Move, Place, post
from traveller.orders.models import BatchShare

FEW = 10
MANY: dict[Size, int] = {"tiny": 30, "quick": 2_000, "full": 2_000}
YOUNG: dict[Size, int] = {"tiny": 100, "quick": 10_000, "full": 10_000}
OLD: dict[Size, int] = {"tiny": 300, "quick": 200_000, "full": 200_000}
LOOKS: dict[Size, int] = {"tiny": 2, "quick": 9, "full": 25}
HOST = "127.0.0.1"
Pages = Mapping[str, Callable[[], object]]


def measure(size: Size) -> list[Figure]:
    globe, finished, open_one = _played()
    pages = _pages(globe)
    copy(open_one, 1, FEW - 1)
    few = {name: _queries(look) for name, look in pages.items()}
    reported = len(finished[Event])
    young = -(-YOUNG[size] // reported)
    copy(finished, HISTORY_FROM, HISTORY_FROM + young)
    before = {name: _seconds(look, LOOKS[size]) for name, look in pages.items()}
    events = [Event.objects.count()]
    copy(finished, HISTORY_FROM + young + 1, HISTORY_FROM + -(-OLD[size] // reported))
    after = {name: _seconds(look, LOOKS[size]) for name, look in pages.items()}
    events.append(Event.objects.count())
    copy(open_one, FEW, MANY[size] - 1)
    many = {name: _queries(look) for name, look in pages.items()}
    figures: list[Figure] = []
    for name, look in pages.items():
        title = f"{name}, {NAMES[connection.vendor]}"
        notes = f"{few[name]} queries with {FEW} open batches, {many[name]} with {MANY[size]:,}"
        full = _seconds(look, 3) * 1000
        figures += [
            Figure(
                f"{title}: queries more for many batches",
                many[name] - few[name],
                "at most",
                0,
                notes=f"{notes}; {full:.0f} ms with these",
            ),
            Figure(
                f"{title}: time for a long history",
                after[name] / before[name],
                "at most",
                2.0,
                "x",
                f"{before[name] * 1000:.1f} ms with {events[0]:,} events, {after[name] * 1000:.1f} with {events[1]:,}",
            ),
        ]
    return figures


# Copies of finished batches have their numbers from here on, those of open ones below.
HISTORY_FROM = 2_001


def _played() -> tuple[Globe, dict[type, list[int]], dict[type, list[int]]]:
    """A finished and an open batch, and the keys of their rows."""
    globe = make_globe(checks={40: (TESTING,)}, start=100)
    # Shops report by their own people: that is what the first page looks for.
    globe.actor = factory.operator(globe.bench)
    before = _latest()
    first = globe.batch
    _to_the_bench(globe, 100, done=True)
    for turn in range(4):
        globe.report(40, 24, scrap={"leak": 1}, done=turn == 3)
    globe.report(50, 96, done=True)
    globe.finish(10)
    lot = globe.lot()
    shelf = Place(lot.pk, globe.bench.pk, Condition.STOCK)
    post(factory.make_event("sold", kind="shipped"), [Move(shelf, shelf.become(Condition.SOLD_TO), 96)])
    Batch.objects.filter(pk=first.pk).update(closed_at=factory.MONDAY)
    finished = rows_of(Batch.objects.get(pk=first.pk), since=before)
    before = _latest()
    order = factory.make_order()
    line = factory.make_line(order, globe.part, 90)
    globe.batch = factory.make_batch(globe.part, wanted=90, start=100, name="open")
    BatchShare.objects.create(batch=globe.batch, line=line, quantity=90)
    _to_the_bench(globe, 60)
    globe.report(40, 30, scrap={"leak": 2})
    globe.report(50, 20)
    return globe, finished, rows_of(Batch.objects.get(pk=globe.batch.pk), since=before)


def _to_the_bench(globe: Globe, pieces: int, *, done: bool = False) -> None:
    globe.report(20, pieces, shots=pieces // 2, done=done)
    globe.report(30, pieces, done=done)
    globe.moved(pieces)


def _latest() -> int:
    return Event.objects.order_by("-pk").values_list("pk", flat=True).first() or 0


def _pages(globe: Globe) -> Pages:
    founder = cast.founder_client()
    operator = cast.pass_client(globe.bench)

    def page(client: Client, path: str) -> Callable[[], object]:
        def look() -> object:
            answer = client.get(path, headers={"host": HOST})
            assert answer.status_code == 200, f"{path}: {answer.status_code}"
            return answer

        return look

    return {
        "founder's first page": page(founder, "/"),
        "stock table": page(founder, "/stock"),
        "operator's page": page(operator, "/here/"),
    }


def _queries(look: Callable[[], object]) -> int:
    look()
    with CaptureQueriesContext(connection) as reported:
        look()
    return len(reported)


def _seconds(look: Callable[[], object], looks: int) -> float:
    """The median of several looks, after one that fills what is read once."""
    look()
    times = []
    for _ in range(looks):
        start = time.process_time() if connection.vendor == "sqlite" else time.perf_counter()
        look()
        end = time.process_time() if connection.vendor == "sqlite" else time.perf_counter()
        times.append(end - start)
    return median(times)
