"""Many writers at once: nothing lost, nothing counted twice, nobody starved."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection, connections

from tests import factory
from tests.globe import Globe, everything_agrees, make_globe, ok
from traveller.batches.actions.open_batch import open_batch
from traveller.batches.actions.report import report
from traveller.batches.steps.answer import Answer
from traveller.journal.action import action, queue
from traveller.journal.models import Event, Subject
from traveller.journal.refusal import Refusal, Refused
from traveller.ledger.models import Condition, Posting
from traveller.ledger.post import Balances, Move, Place, post

pytestmark = pytest.mark.django_db(transaction=True)
THREADS = 16


def _at_once(work: Callable[[int], object], threads: int = THREADS) -> list[object]:
    """Run the same work in many threads that all start together."""
    start = threading.Barrier(threads)

    def run(number: int) -> object:
        start.wait()
        try:
            return work(number)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(run, range(threads)))


def _report(globe: Globe, step: int, name: str, good: int) -> Answer | Refusal:
    return report(event_context=factory.event_context(name), step_id=step, good=good)


def test_sixteen_threads_on_one_lot_lose_no_count() -> None:
    globe = make_globe(insert=True)
    inserts = factory.make_stock(globe.insert, globe.bench, 10_000)
    make, fit = globe.step(20).pk, globe.step(50).pk

    def work(number: int) -> None:
        for turn in range(5):
            ok(_report(globe, make, f"make {number} {turn}", 7))
            ok(_report(globe, fit, f"fit {number} {turn}", 3))

    _at_once(work)
    assert globe.step(20).good == THREADS * 5 * 7
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30) == THREADS * 5 * 7
    assert factory.balance(inserts, globe.bench) == 10_000 - THREADS * 5 * 3
    assert globe.at(globe.bench, Condition.UNREPORTED, 50) == -THREADS * 5 * 3
    assert Event.objects.filter(kind="counted").count() == THREADS * 10
    assert everything_agrees()


def test_the_same_telling_from_sixteen_phones_is_counted_once() -> None:
    globe = make_globe()
    step = globe.step(20).pk
    answers = _at_once(lambda _: _report(globe, step, "the same", 50))
    events = {ok(answer).event.pk for answer in answers if isinstance(answer, Answer)}
    assert len(answers) == THREADS
    assert len(events) == 1
    assert sum(not ok(answer).repeated for answer in answers if isinstance(answer, Answer)) == 1
    assert globe.step(20).good == 50
    assert everything_agrees()


def test_a_shelf_is_not_emptied_twice() -> None:
    bench = factory.make_bench()
    lot = factory.make_stock(factory.make_part("PUCK", "bought"), bench, 100)
    shelf = Place(lot.pk, bench.pk, Condition.STOCK)

    @action
    def take(name: str) -> int:
        event = factory.make_event(name)
        moves = Balances([lot.pk]).transfer(shelf, shelf.become(Condition.SCRAP), 10)
        post(event, moves)
        return 10

    answers = _at_once(lambda number: take(name=f"take {number}"))
    assert sum(answer for answer in answers if isinstance(answer, int)) == 100
    assert [answer.code for answer in answers if isinstance(answer, Refusal)] == ["short"] * (THREADS - 10)
    assert factory.balance(lot, bench) == 0
    assert factory.balance(lot, bench, Condition.SCRAP) == 100


def test_writers_that_take_lots_in_opposite_order_all_get_through() -> None:
    bench = factory.make_bench()
    part = factory.make_part("PUCK", "bought")
    lots = [factory.make_stock(part, bench, 1000, name=name) for name in ("a", "b")]

    @action
    def swap(name: str, order: list[int]) -> None:
        event = factory.make_event(name)
        for pk in order:  # one after the other: the order that Balances would have taken is not kept
            shelf = Place(pk, bench.pk, Condition.STOCK)
            post(event, Balances([pk]).transfer(shelf, shelf.become(Condition.SCRAP), 1))

    def work(number: int) -> None:
        pks = [lot.pk for lot in lots]
        ok(swap(name=f"swap {number}", order=pks if number % 2 else pks[::-1]))

    _at_once(work, 2)
    assert [factory.balance(lot, bench, Condition.SCRAP) for lot in lots] == [2, 2]


def test_batches_opened_at_once_have_codes_of_their_own() -> None:
    globe = make_globe()

    @action
    def release(name: str) -> str:
        event = factory.make_event(name)
        batch = open_batch(
            event,
            globe.part,
            uid=factory.uid(name),
            wanted=1,
            start=1,
            destination_id=globe.bench.pk,
            due_on=None,
        )
        return batch.code

    codes = _at_once(lambda number: release(name=f"release {number}"))
    assert len(set(codes)) == THREADS
    assert Subject.objects.filter(kind="batch").count() == THREADS + 1


def test_a_refusal_rolls_everything_back() -> None:
    bench = factory.make_bench()
    lot = factory.make_stock(factory.make_part("PUCK", "bought"), bench, 100)
    shelf = Place(lot.pk, bench.pk, Condition.STOCK)

    @action
    def half() -> None:
        post(factory.make_event("half"), [Move(shelf, shelf.become(Condition.SCRAP), 10)])
        raise Refused("changed_my_mind", left=90)

    before = (Event.objects.count(), Posting.objects.count())
    assert half() == Refusal("changed_my_mind", {"left": 90})
    assert (Event.objects.count(), Posting.objects.count()) == before
    assert factory.balance(lot, bench) == 100


@pytest.mark.sqlite
def test_writers_of_a_file_queue_fairly() -> None:
    """Each of 16 writers gets its turns: while one waits, the others write about once each, and none of them all day.

    Counted in what others wrote meanwhile, not in seconds, which are longer on a busy machine.
    """
    globe = make_globe()
    step = globe.step(20).pk
    written: list[int] = []
    overtaken: list[int] = []

    def work(number: int) -> None:
        for turn in range(6):
            before = len(written)
            ok(_report(globe, step, f"fair {number} {turn}", 1))
            overtaken.append(len(written) - before)
            written.append(number)

    _at_once(work)
    assert globe.step(20).good == THREADS * 6
    # Who backs off and tries again at random is overtaken by all that the others have to write: up to 90.
    assert max(overtaken) < 4 * THREADS, sorted(overtaken)


@pytest.mark.sqlite
def test_who_is_inside_a_transaction_does_not_queue_again() -> None:
    """An action within an action, and an action within another's transaction, would otherwise wait for themselves."""
    from django.db import transaction

    @action
    def inner() -> str:
        return "done"

    @action
    def outer() -> str | Refusal:
        return inner()

    assert outer() == "done"
    with transaction.atomic(), queue():
        assert connection.in_atomic_block
        assert inner() == "done"


@pytest.mark.postgres
def test_a_hold_reaches_what_is_being_made_at_the_same_moment() -> None:
    """A lot is held while sixteen reports use it: whatever was made of it is held, whoever came first."""
    from traveller.batches.actions.hold import hold_lot
    from traveller.ledger.models import Hold

    globe = make_globe(insert=True)
    inserts = factory.make_stock(globe.insert, globe.bench, 10_000)
    batches = [factory.make_batch(globe.part, name=str(number)) for number in range(THREADS - 1)]
    steps = [globe.step(50, batch).pk for batch in batches]

    def work(number: int) -> None:
        if number == THREADS - 1:
            ok(hold_lot(event_context=factory.event_context("hold"), lot_id=inserts.pk, reason="cracked"))
        else:
            ok(_report(globe, steps[number], f"use {number}", 2))

    _at_once(work)
    for batch in batches:
        assert Hold.objects.filter(lot=globe.lot(batch), closed_at=None).count() == 1
    assert everything_agrees()
