"""News of many phones arrives in any order, some of it twice: the balances are the same."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests import factory
from tests.globe import Globe, everything_agrees, make_globe, ok
from tests.laws.acts import fresh
from traveller.batches.actions.finish_step import finish_step
from traveller.batches.actions.receive import arrived_unannounced
from traveller.batches.actions.report import report
from traveller.ledger.models import Account

pytestmark = pytest.mark.django_db

_few = st.integers(0, 4)
MESSAGES = st.lists(
    st.one_of(
        st.tuples(st.sampled_from([20, 30, 40, 50]), st.integers(0, 20), _few, _few, st.just(False)),
        st.tuples(st.sampled_from([30, 40, 50]), st.integers(0, 5), _few, st.just(0), st.just(True)),
        st.tuples(st.just("done"), st.sampled_from([20, 30, 40, 50]), _few),
    ),
    min_size=2,
    max_size=8,
)


def _tell(globe: Globe, number: int, message: tuple[Any, ...]) -> None:
    event_context = factory.event_context(f"message {number}")
    if message[0] == "done":
        ok(finish_step(event_context=event_context, step_id=globe.step(message[1]).pk, lost=message[2]))
        return
    step, good, scrap, rework, again = message
    reported: dict[str, Any] = {"good": good, "scrap": {"short": scrap}, "rework": rework, "again": again}
    ok(report(event_context=event_context, step_id=globe.step(step).pk, **reported))


def _outcome(messages: list[tuple[Any, ...]], order: list[int]) -> tuple[Any, ...]:
    """Balances of all lots and totals of all steps after the messages in this order, repetitions included."""
    with fresh():
        globe = make_globe(insert=True)
        inserts = factory.make_stock(globe.insert, globe.bench, 1000)
        for number in order:
            _tell(globe, number, messages[number])
        totals = [
            (s.number, s.good, s.scrap, s.rework, s.again_good, s.again_scrap, s.state)
            for s in globe.batch.steps.order_by("number")
        ]
        rows = Account.objects.exclude(balance=0).values_list(
            "lot__part__number", "site__code", "condition", "step", "balance"
        )
        assert everything_agrees()
        return sorted(rows), totals, factory.balance(inserts, globe.bench)


@settings(max_examples=24, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_the_order_of_news_and_its_repetition_change_nothing(data: st.DataObject) -> None:
    messages = data.draw(MESSAGES)
    numbers = list(range(len(messages)))
    shuffled = data.draw(st.permutations(numbers))
    repeated = data.draw(st.lists(st.sampled_from(numbers), max_size=4))
    order = [*shuffled]
    for number in repeated:
        order.insert(data.draw(st.integers(0, len(order))), number)
    assert _outcome(messages, order) == _outcome(messages, numbers)


@pytest.mark.parametrize("arrival_first", [True, False])
def test_a_dispatch_and_its_arrival_meet_in_either_order(arrival_first: bool) -> None:
    globe = make_globe()
    globe.report(20, 50)
    globe.report(30, 50)

    def arrive() -> None:
        reported = {"site_id": globe.bench.pk, "lot_id": globe.lot().pk, "quantity": 40}
        ok(arrived_unannounced(event_context=factory.event_context("arrival"), **reported))  # type: ignore[arg-type]

    def leave() -> None:
        ok(globe.send(42, event_context=factory.event_context("dispatch")))

    for tell in (arrive, leave) if arrival_first else (leave, arrive):
        tell()
        tell()
    assert globe.lies() == {
        ("moulder", "made_from", 20): -50,
        ("moulder", "stock", 30): 8,
        ("moulder", "on_the_road", 40): 2,
        ("bench", "in_process", 40): 40,
    }
    assert everything_agrees()
