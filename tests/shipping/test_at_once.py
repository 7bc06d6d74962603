"""Two at once: on PostgreSQL both really run together, on SQLite they queue; the figures are the same."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from tests import factory
from tests.orders.lamps import make_lamps
from tests.shipping.packing import make_bench
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Condition
from traveller.orders.actions.release import release
from traveller.orders.models import OrderLine, Release, Reservation
from traveller.shipping.actions.ship import ship
from traveller.shipping.models import Carton, Shipment

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


def together(*deeds: Callable[[], object]) -> list[object]:
    """Each deed in a thread and connection of its own, started at the same moment."""
    gate = Barrier(len(deeds))

    def run(deed: Callable[[], object]) -> object:
        try:
            gate.wait(timeout=20)
            return deed()
        finally:
            connection.close()

    with ThreadPoolExecutor(len(deeds)) as threads:
        return [future.result(timeout=60) for future in [threads.submit(run, deed) for deed in deeds]]


def test_four_packers_never_pack_more_than_is_ordered_or_lies_there() -> None:
    bench = make_bench(ordered=30, finished=60)
    answers = together(*[lambda n=n: bench.pack(n, 10) for n in range(4)])
    assert sum(isinstance(answer, Carton) for answer in answers) == 3
    assert [answer.code for answer in answers if isinstance(answer, Refusal)] == ["more_than_ordered"]
    assert OrderLine.objects.get().packed == 30
    assert factory.balance(bench.lot, bench.lamps.bench, Condition.PACKED) == 30
    assert factory.sums_to_zero()


def test_one_telling_sent_by_four_phones_at_once_packs_one_carton() -> None:
    bench = make_bench()
    answers = together(*[lambda: bench.pack(1, 10) for _ in range(4)])
    assert {answer.pk for answer in answers if isinstance(answer, Carton)} == {Carton.objects.get().pk}
    assert OrderLine.objects.get().packed == 10


def test_two_releases_at_once_never_count_on_the_same_stock() -> None:
    lamps = make_lamps()
    lot = factory.make_stock(lamps.puck, lamps.bench, 130)
    order = factory.make_order()
    lines = [lamps.line(order=order, number=n) for n in (1, 2)]
    answers = together(
        *[
            lambda n=n, line=line: release(event_context=factory.event_context(n), line_ids=[line.pk])
            for n, line in enumerate(lines)
        ]
    )
    assert all(isinstance(answer, Release) for answer in answers)
    assert sorted(Reservation.objects.filter(lot=lot).values_list("left", flat=True)) == [30, 100]


def test_a_carton_leaves_once_however_many_ask() -> None:
    bench = make_bench()
    carton = bench.carton(1)

    def leave(n: int) -> object:
        return ship(
            event_context=factory.event_context(n),
            order_id=bench.line.order_id,
            site_id=bench.lamps.bench.pk,
            carton_ids=[carton.pk],
        )

    answers = together(*[lambda n=n: leave(n) for n in (2, 3, 4)])
    assert sum(isinstance(answer, Shipment) for answer in answers) == 1
    assert {answer.code for answer in answers if isinstance(answer, Refusal)} == {"carton_shipped"}
    assert factory.balance(bench.lot, bench.lamps.bench, Condition.SOLD_TO) == 10
