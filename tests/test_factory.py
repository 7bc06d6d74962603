"""The hand-made objects hold together: what other tests build on."""

from __future__ import annotations

import pytest

from tests import factory
from traveller.ledger.models import Condition

pytestmark = pytest.mark.django_db


def test_a_batch_made_by_hand_has_the_steps_of_its_routing() -> None:
    moulder, bench = factory.make_site(), factory.make_bench()
    globe = factory.make_part()
    factory.make_routing(globe, [factory.Op(10, moulder, "mould", "make"), factory.Op(20, bench, "test")])
    batch = factory.make_batch(globe, wanted=50, start=55)
    assert [(step.number, step.site) for step in batch.steps.order_by("number")] == [
        (10, moulder),
        (20, bench),
    ]
    assert (batch.wanted, batch.start, batch.destination) == (50, 55, bench)


def test_stock_made_by_hand_lies_where_it_was_said_to_lie() -> None:
    bench, puck = factory.make_bench(), factory.make_part("PUCK", "bought")
    lot = factory.make_stock(puck, bench, 40)
    assert factory.balance(lot, bench) == 40
    assert factory.balance(lot, bench, Condition.BOUGHT_FROM) == -40
    assert factory.sums_to_zero()


def test_the_same_telling_has_the_same_id_and_another_has_another() -> None:
    assert factory.event_context(1) == factory.event_context(1)
    assert factory.event_context(1).uid != factory.event_context(2).uid
    assert factory.event_context(1).at < factory.event_context(2).at
