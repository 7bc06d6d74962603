"""Orders, purchases, deliveries, opening stock and batches taken over."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from tests import factory
from tests.factory import CheckRow, Op
from tests.orders.lamps import Lamps, make_lamps
from traveller.batches.models import Batch, StepState, Verdict
from traveller.batches.proof import gates
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Condition, Lot
from traveller.orders.actions.adopt_batch import adopt_batch
from traveller.orders.actions.enter_order import LineTold, enter_order
from traveller.orders.actions.open_stock import open_stock
from traveller.orders.actions.purchase import purchase
from traveller.orders.actions.receive_purchase import Delivered, receive_purchase
from traveller.orders.actions.release import release
from traveller.orders.models import Need, Order, OrderLine, Purchase, Reservation
from traveller.orders.plan import make_plan
from traveller.products.models import Part

pytestmark = pytest.mark.django_db

ON = factory.MONDAY.date()


def entered(n: int, part: Part, quantity: int, **more: int) -> Order | Refusal:
    line = LineTold(number=1, part_id=part.pk, quantity=quantity, due_on=date(2026, 5, 1), **more)
    return enter_order(
        event_context=factory.event_context(n), number="2001", customer="Pine", placed_on=ON, lines=[line]
    )


def bought(lamps: Lamps, n: int = 1, quantity: int = 150) -> Purchase:
    answer = purchase(
        event_context=factory.event_context(n),
        supplier_id=lamps.supplier.pk,
        deliver_to_id=lamps.bench.pk,
        part_id=lamps.puck.pk,
        quantity=quantity,
        due_on=date(2026, 3, 20),
    )
    assert isinstance(answer, Purchase)
    return answer


def delivered(n: int, **what: object) -> Delivered:
    answer = receive_purchase(event_context=factory.event_context(n), **what)  # type: ignore[arg-type]
    assert isinstance(answer, Delivered)
    return answer


def test_an_order_told_twice_is_one_order() -> None:
    lamp = factory.make_part("LAMP")
    assert entered(1, lamp, 50) == entered(1, lamp, 50)
    assert OrderLine.objects.get().quantity == 50


def test_an_order_told_anew_as_it_stands_leaves_no_trace() -> None:
    lamp = factory.make_part("LAMP")
    entered(1, lamp, 50)
    entered(2, lamp, 50)
    assert Event.objects.filter(kind="order entered").count() == 1
    entered(3, lamp, 60)
    assert OrderLine.objects.get().quantity == 60
    assert Event.objects.filter(kind="order entered").count() == 2


def test_a_line_does_not_shrink_below_what_is_released() -> None:
    lamp = factory.make_part("LAMP")
    entered(1, lamp, 50)
    OrderLine.objects.update(released=40)
    refused = entered(2, lamp, 39)
    assert refused == Refusal("below_released", {"line": 1, "wanted": 39, "least": 40})
    assert isinstance(entered(3, lamp, 40), Order)


def test_a_released_line_keeps_its_part() -> None:
    entered(1, factory.make_part("LAMP"), 50)
    other = factory.make_part("LAMP-RED")
    assert isinstance(entered(2, other, 50), Order)
    OrderLine.objects.update(released=10)
    refused = entered(3, factory.make_part("LAMP-BLUE"), 50)
    assert isinstance(refused, Refusal) and refused.code == "part_released"


def test_a_closed_order_is_not_changed() -> None:
    lamp = factory.make_part("LAMP")
    entered(1, lamp, 50)
    Order.objects.update(closed_at=factory.MONDAY)
    assert entered(2, lamp, 60) == Refusal("order_closed", {"order": "2001"})


def test_an_order_of_nothing_is_refused() -> None:
    assert entered(1, factory.make_part("LAMP"), 0) == Refusal("not_a_quantity", {"found": 0})
    assert not Order.objects.exists()


def test_a_purchase_told_twice_is_one_purchase() -> None:
    lamps = make_lamps()
    assert bought(lamps) == bought(lamps)
    assert Purchase.objects.count() == 1


def test_a_made_part_is_not_bought() -> None:
    lamps = make_lamps()
    answer = purchase(
        event_context=factory.event_context(1),
        supplier_id=lamps.supplier.pk,
        deliver_to_id=lamps.bench.pk,
        part_id=lamps.globe.pk,
        quantity=5,
    )
    assert isinstance(answer, Refusal) and answer.code == "made_not_bought"


def test_a_delivery_makes_a_lot_with_the_suppliers_number_and_expiry() -> None:
    lamps = make_lamps()
    order = bought(lamps)
    reported = {
        "site_id": lamps.bench.pk,
        "quantity": 100,
        "purchase_id": order.pk,
        "outside_number": "LP-7",
        "expires_on": date(2027, 1, 1),
    }
    first, again = delivered(2, **reported), delivered(2, **reported)
    assert again.repeated and again.lot == first.lot
    assert (first.lot.outside_number, first.lot.expires_on, first.lot.part) == ("LP-7", date(2027, 1, 1), lamps.puck)
    assert factory.balance(first.lot, lamps.bench) == 100
    assert factory.balance(first.lot, lamps.supplier, Condition.BOUGHT_FROM) == -100
    assert factory.sums_to_zero()
    order.refresh_from_db()
    assert (order.received, order.closed_at) == (100, None)
    delivered(3, site_id=lamps.bench.pk, quantity=60, purchase_id=order.pk)
    order.refresh_from_db()
    assert order.received == 160 and order.closed_at is not None


def test_a_delivery_that_nobody_ordered_is_taken_in() -> None:
    lamps = make_lamps()
    answer = delivered(1, site_id=lamps.moulder.pk, quantity=900, part_id=lamps.resin.pk)
    assert factory.balance(answer.lot, lamps.moulder) == 900


def test_a_delivery_of_another_part_than_ordered_is_asked_about() -> None:
    lamps = make_lamps()
    order = bought(lamps)
    answer = receive_purchase(
        event_context=factory.event_context(2),
        site_id=lamps.bench.pk,
        quantity=5,
        purchase_id=order.pk,
        part_id=lamps.leaflet.pk,
    )
    assert isinstance(answer, Refusal) and answer.code == "another_part"
    assert not Lot.objects.exists()


def test_a_delivery_is_kept_for_the_line_that_waits_for_it() -> None:
    lamps = make_lamps()
    line = lamps.line()
    release(event_context=factory.event_context(1), line_ids=[line.pk])
    order = bought(lamps, 2)
    answer = delivered(3, site_id=lamps.bench.pk, quantity=150, purchase_id=order.pk)
    assert answer.kept == 100
    assert Need.objects.get(part=lamps.puck).left == 0
    assert Reservation.objects.get(lot=answer.lot).left == 100
    second = make_plan([lamps.line(order=line.order, number=2).pk], on=ON)
    assert {row.part: row.from_free for row in second.shortages}["PUCK"] == 50


def test_an_expired_delivery_is_taken_in_and_kept_for_nobody() -> None:
    lamps = make_lamps()
    release(event_context=factory.event_context(1), line_ids=[lamps.line().pk])
    answer = delivered(2, site_id=lamps.bench.pk, quantity=50, part_id=lamps.puck.pk, expires_on=ON - timedelta(days=1))
    assert answer.kept == 0 and factory.balance(answer.lot, lamps.bench) == 50


def test_opening_stock_is_booked_once_whoever_imports_it() -> None:
    lamps = make_lamps()
    reported = {"part_id": lamps.resin.pk, "site_id": lamps.bench.pk, "quantity": 60_000, "outside_number": "PC-1"}
    lot = open_stock(event_context=factory.event_context(1), **reported)  # type: ignore[arg-type]
    assert open_stock(event_context=factory.event_context(2), **reported) == lot  # type: ignore[arg-type]
    assert isinstance(lot, Lot) and factory.balance(lot, lamps.bench) == 60_000
    changed = open_stock(event_context=factory.event_context(3), **{**reported, "quantity": 1})  # type: ignore[arg-type]
    assert isinstance(changed, Refusal) and changed.code == "told_otherwise"
    assert factory.balance(lot, lamps.bench) == 60_000 and factory.sums_to_zero()


def bands() -> Part:
    """Extruded and cured at the rubber shop, then printed elsewhere; every step asks for something."""
    rubber, printer = factory.make_site("rubber"), factory.make_site("printer")
    band = factory.make_part("BAND")
    held = CheckRow("held", "window", {"least": "8"}, "load", "step")
    factory.make_routing(
        band,
        [
            Op(10, rubber, "mix", "prepare"),
            Op(20, rubber, "extrude", "make", checks=[CheckRow("all", "every_piece", {}, "step", "step")]),
            Op(30, rubber, "cure", "work", 0.5, destroyed=1, kept=1, checks=[held]),
            Op(40, printer, "print", "work"),
        ],
    )
    factory.make_bench()
    return band


def adopted(part: Part, good: dict[int, int], n: int = 1) -> Batch | Refusal:
    return adopt_batch(event_context=factory.event_context(n), reference="RUN-88", part_id=part.pk, good=good)


def test_a_batch_taken_over_waits_before_its_next_step() -> None:
    band = bands()
    batch = adopted(band, {20: 220})
    assert isinstance(batch, Batch) and batch.lot is not None
    rubber = batch.steps.get(number=30).site
    assert factory.balance(batch.lot, rubber, Condition.IN_PROCESS, 30) == 220
    assert factory.balance(batch.lot, rubber, Condition.MADE_FROM, 20) == -220
    # Half of 220 are expected to pass the cure, one is cut open and one kept.
    assert (batch.start, batch.wanted, batch.lot.outside_number) == (220, 108, "RUN-88")
    states = dict(batch.steps.values_list("number", "state"))
    assert states == {10: StepState.DONE, 20: StepState.DONE, 30: StepState.WAITING, 40: StepState.WAITING}
    assert factory.sums_to_zero()


def test_pieces_through_a_sites_last_step_lie_in_its_stock() -> None:
    band = bands()
    batch = adopted(band, {20: 100, 30: 50})
    assert isinstance(batch, Batch) and batch.lot is not None
    rubber = batch.steps.get(number=30).site
    assert factory.balance(batch.lot, rubber, Condition.IN_PROCESS, 30) == 100
    assert factory.balance(batch.lot, rubber, Condition.STOCK, 30) == 50
    assert batch.steps.get(number=30).state == StepState.RUNNING


def test_what_nobody_recorded_is_conceded_visibly_and_what_is_ahead_still_blocks() -> None:
    batch = adopted(bands(), {20: 220})
    assert isinstance(batch, Batch)
    verdict = Verdict.objects.get(step__batch=batch)
    assert (verdict.step.number, verdict.outcome, verdict.code) == (20, "missing", "before_this_record")
    assert verdict.conceded_event == batch.released_event
    assert gates.closed(batch, "start", before=30) == []
    assert [block.step for block in gates.closed(batch, "send")] == [30]


def test_a_batch_is_taken_over_once() -> None:
    band = bands()
    assert adopted(band, {20: 220}) == adopted(band, {20: 220}, n=2)
    changed = adopted(band, {20: 221}, n=3)
    assert isinstance(changed, Refusal) and changed.code == "told_otherwise"
    assert Batch.objects.count() == 1


def test_an_unknown_step_or_no_pieces_are_refused_and_leave_nothing() -> None:
    band = bands()
    assert adopted(band, {25: 10}) == Refusal("no_such_step", {"step": 25})
    assert adopted(band, {20: 0}) == Refusal("not_a_quantity", {"found": 0})
    assert not Batch.objects.exists() and not Event.objects.exists()


def test_a_batch_taken_over_for_a_line_needs_no_release() -> None:
    lamps = make_lamps()
    line = lamps.line(95)
    batch = adopt_batch(
        event_context=factory.event_context(1), reference="OLD-1", part_id=lamps.lamp.pk, good={10: 40}, line_id=line.pk
    )
    assert isinstance(batch, Batch)
    line.refresh_from_db()
    assert line.released == 40
    assert {row.part: row.wanted for row in make_plan([line.pk], on=ON).batches}["LAMP"] == 55
    globe = adopt_batch(
        event_context=factory.event_context(2),
        reference="OLD-2",
        part_id=lamps.globe.pk,
        good={20: 40},
        line_id=line.pk,
    )
    assert isinstance(globe, Refusal) and globe.code == "line_of_another_part"
