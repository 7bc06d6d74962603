"""What pages ask of orders."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests import factory
from tests.factory import Op
from tests.orders.lamps import make_lamps
from traveller.batches.actions.report import report
from traveller.batches.models import Batch, Step
from traveller.batches.splitting.divide import divide
from traveller.ledger import holds
from traveller.ledger.models import Condition
from traveller.ledger.post import Place
from traveller.orders import queries, stock
from traveller.orders.actions.purchase import purchase
from traveller.orders.actions.release import release
from traveller.orders.kits import kits_now
from traveller.orders.models import OrderLine, Release

pytestmark = pytest.mark.django_db

ON = factory.MONDAY.date()


def count(question: Callable[[], object]) -> int:
    with CaptureQueriesContext(connection) as captured:
        question()
    return len(captured)


def test_open_orders_tell_how_far_each_line_has_come() -> None:
    lamps = make_lamps()
    lamps.line(95)
    OrderLine.objects.update(released=90, packed=60, shipped=40)
    factory.make_order("closed", closed_at=factory.MONDAY)
    (row,) = queries.orders()
    (line,) = row.lines
    assert (line.wanted, line.released, line.packed, line.shipped, line.to_follow) == (95, 90, 60, 40, 55)
    assert [row.order.number for row in queries.orders(closed=True)] == ["closed"]


def test_lines_to_be_released_come_due_first_and_leave_out_what_is_released() -> None:
    lamps = make_lamps()
    order = factory.make_order()
    late = factory.make_line(order, lamps.lamp, 5, number=1, due_on=ON + timedelta(days=9))
    soon = factory.make_line(order, lamps.lamp, 5, number=2, due_on=ON + timedelta(days=3))
    factory.make_line(order, lamps.lamp, 5, number=3, released=5)
    assert queries.unreleased_lines() == [soon, late]


def test_the_batches_of_an_order_include_its_components_and_what_was_split_off() -> None:
    lamps = make_lamps()
    line = lamps.line()
    answer = release(event_context=factory.event_context(1), line_ids=[line.pk])
    assert isinstance(answer, Release)
    other = factory.make_batch(lamps.globe, name="other")
    globes = Batch.objects.get(part=lamps.globe, released_event=answer.event)
    report(event_context=factory.event_context(2), step_id=Step.objects.get(batch=globes, number=20).pk, good=50)
    globes.refresh_from_db()
    assert globes.lot is not None
    shelf = Place(globes.lot.pk, lamps.moulder.pk, Condition.STOCK, 0)
    child = divide(factory.make_event("split", kind="held"), globes, shelf, 10, first_step=20)
    found = list(queries.batches_of(line.order_id))
    assert globes in found and child in found and other not in found
    assert len(found) == 3


def test_free_stock_keeps_held_expired_and_reserved_apart() -> None:
    lamps = make_lamps()
    held = factory.make_stock(lamps.puck, lamps.bench, 7, name="held")
    holds.open_hold(factory.make_event("h", kind="held"), held, cause="founder", code="x")
    factory.make_stock(lamps.puck, lamps.bench, 11, name="old", expires_on=ON - timedelta(days=1))
    factory.make_stock(lamps.puck, lamps.bench, 130, name="good")
    release(event_context=factory.event_context(1), line_ids=[lamps.line().pk])
    shelves = stock.look(ON, part_ids=[lamps.puck.pk]).shelves
    names = ("balance", "held", "expired", "reserved", "free")
    assert [sum(getattr(shelf, name) for shelf in shelves) for name in names] == [148, 7, 11, 100, 30]
    (kept,) = queries.reservations()
    assert (kept.lot.part, kept.left) == (lamps.puck, 100)


def test_what_is_still_to_buy_is_waited_for_less_on_order() -> None:
    lamps = make_lamps()
    release(event_context=factory.event_context(1), line_ids=[lamps.line().pk])
    purchase(
        event_context=factory.event_context(2),
        supplier_id=lamps.supplier.pk,
        deliver_to_id=lamps.bench.pk,
        part_id=lamps.puck.pk,
        quantity=60,
    )
    rows = {row.part.number: (row.waited_for, row.on_order, row.to_buy) for row in queries.still_to_buy()}
    assert rows == {"PUCK": (100, 60, 40), "LEAFLET": (95, 0, 95), "RESIN": (3750, 0, 3750)}


def test_kits_are_limited_by_the_scarcest_component_at_the_bench() -> None:
    lamps = make_lamps()
    lamps.line(95)
    factory.make_stock(lamps.puck, lamps.bench, 80)
    factory.make_stock(lamps.globe, lamps.bench, 30, name="here")
    factory.make_stock(lamps.globe, lamps.moulder, 20, name="there")
    held = factory.make_stock(lamps.globe, lamps.bench, 9, name="held")
    holds.open_hold(factory.make_event("h", kind="held"), held, cause="founder", code="x")
    (row,) = kits_now(on=ON)
    assert (row.part, row.wanted, row.kits, row.limiting) == (lamps.lamp, 95, 30, lamps.globe)
    assert {c.part.number: c.pieces for c in row.components} == {
        "GLOBE": {"here": 30, "one": 20, "held": 9},
        "PUCK": {"here": 80},
    }


def test_a_component_that_two_products_share_is_counted_once() -> None:
    lamps = make_lamps()
    red = factory.make_part("LAMP-RED")
    factory.make_routing(red, [Op(10, lamps.bench, "assemble", "make")])
    factory.make_bill(red, lamps.puck, step=10)
    order = factory.make_order()
    factory.make_line(order, red, 50, number=1, due_on=ON + timedelta(days=3))
    factory.make_line(order, lamps.lamp, 50, number=2, due_on=ON + timedelta(days=9))
    factory.make_stock(lamps.puck, lamps.bench, 60)
    factory.make_stock(lamps.globe, lamps.bench, 60)
    assert [(row.part, row.kits) for row in kits_now(on=ON)] == [(red, 50), (lamps.lamp, 10)]


def test_pieces_before_their_steps_are_told_by_how_many_are_left() -> None:
    bench, moulder = factory.make_bench(), factory.make_site()
    lamp, globe = factory.make_part("LAMP"), factory.make_part("GLOBE")
    factory.make_routing(lamp, [Op(10, bench, "assemble", "make")])
    steps = [Op(10, moulder, "mould", "make"), Op(20, moulder, "cool"), Op(30, moulder, "test")]
    factory.make_routing(globe, steps)
    factory.make_bill(lamp, globe, step=10)
    factory.make_line(factory.make_order(), lamp, 50)
    batch = factory.make_batch(globe)
    by_number = {step.number: step.pk for step in batch.steps.all()}
    report(event_context=factory.event_context(1), step_id=by_number[10], good=40)
    report(event_context=factory.event_context(2), step_id=by_number[20], good=15)
    (row,) = kits_now(on=ON)
    assert row.components[0].pieces == {"two": 25, "one": 15}


def test_no_question_takes_more_queries_for_thirty_orders_than_for_three() -> None:
    lamps = make_lamps()
    questions: list[Callable[[], object]] = [
        queries.orders,
        queries.unreleased_lines,
        queries.reservations,
        queries.still_to_buy,
        lambda: stock.look(ON),
        lambda: kits_now(on=ON),
    ]

    def grow(first: int, last: int) -> None:
        for n in range(first, last):
            factory.make_stock(lamps.globe, lamps.bench, 40, name=str(n))
            line = lamps.line(order=factory.make_order(str(n)))
            release(event_context=factory.event_context(n), line_ids=[line.pk])

    grow(0, 3)
    few = [count(question) for question in questions]
    grow(3, 30)
    assert [count(question) for question in questions] == few
