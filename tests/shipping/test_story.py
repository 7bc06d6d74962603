"""One order the whole way, from the customer to a closed order, and verify finds nothing to say."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import pytest

from tests import factory
from tests.orders.lamps import Lamps, make_lamps
from traveller.batches.actions.receive import receive
from traveller.batches.actions.report import report
from traveller.batches.actions.send import send
from traveller.batches.history import verify as batches
from traveller.batches.models import Batch, Step
from traveller.dispatches import verify as consignments
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.actions.receive import Received
from traveller.dispatches.models import Consignment
from traveller.journal import verify as journal
from traveller.journal.verify import Difference
from traveller.ledger import verify as ledger
from traveller.ledger.models import Condition, Lot
from traveller.orders import verify as orders
from traveller.orders.actions.adopt_batch import adopt_batch
from traveller.orders.actions.enter_order import LineTold, enter_order
from traveller.orders.actions.open_stock import open_stock
from traveller.orders.actions.receive_purchase import Delivered, receive_purchase
from traveller.orders.actions.release import release
from traveller.orders.models import Need, Order, OrderLine, Purchase, Release, Reservation
from traveller.orders.plan import make_plan
from traveller.shipping import verify as shipping
from traveller.shipping.actions.open_carton import open_carton
from traveller.shipping.actions.pack import pack
from traveller.shipping.actions.ship import ship
from traveller.shipping.models import Carton, Shipment

pytestmark = pytest.mark.django_db

ROOMS: tuple[Callable[[], Iterable[Difference]], ...] = (
    journal.differences,
    ledger.differences,
    consignments.differences,
    batches.differences,
    orders.differences,
    shipping.differences,
)


def differences() -> list[Difference]:
    return [difference for room in ROOMS for difference in room()]


def ordered(lamps: Lamps, quantity: int) -> OrderLine:
    reported = LineTold(number=1, part_id=lamps.lamp.pk, quantity=quantity, due_on=factory.MONDAY.date())
    order = enter_order(
        event_context=factory.event_context(1),
        number="1001",
        customer="Pine",
        placed_on=factory.MONDAY.date(),
        lines=[reported],
    )
    assert isinstance(order, Order)
    return order.lines.get()


def delivered(lamps: Lamps, n: int, part: str, site: str, quantity: int) -> Lot:
    answer = receive_purchase(
        event_context=factory.event_context(n),
        site_id=getattr(lamps, site).pk,
        quantity=quantity,
        part_id=getattr(lamps, part).pk,
    )
    assert isinstance(answer, Delivered)
    return answer.lot


def moulded_and_sent(lamps: Lamps, n: int) -> Lot:
    """112 of 125 globes are good at the moulder; a hundred go to the bench."""
    step = Step.objects.get(batch__part=lamps.globe, batch__parent=None, number=20)
    report(event_context=factory.event_context(n), step_id=step.pk, good=112, scrap={"short": 13}, done=True)
    lot = Batch.objects.get(pk=step.batch_id).lot
    assert lot is not None
    sent = send(
        event_context=factory.event_context(n + 1),
        origin_id=lamps.moulder.pk,
        destination_id=lamps.bench.pk,
        lines=[SendLine(lot.pk, 100)],
    )
    assert isinstance(sent, Consignment), sent
    arrived = receive(event_context=factory.event_context(n + 2), line_id=sent.lines.get().pk, quantity=100)
    assert isinstance(arrived, Received)
    return lot


def packed(lamps: Lamps, line: OrderLine, n: int, quantity: int, lots: list[Lot]) -> Carton:
    answer = pack(
        event_context=factory.event_context(n),
        line_id=line.pk,
        site_id=lamps.bench.pk,
        quantity=quantity,
        lots=[(lot.pk, quantity) for lot in lots],
        packer="Tomas",
    )
    assert isinstance(answer, Carton), answer
    return answer


def test_an_order_goes_the_whole_way_and_everything_agrees() -> None:
    lamps = make_lamps()
    line = ordered(lamps, 95)
    shown = make_plan([line.pk], on=factory.MONDAY.date())
    assert isinstance(
        release(event_context=factory.event_context(2), line_ids=[line.pk], plan_digest=shown.digest), Release
    )
    delivered(lamps, 3, "resin", "moulder", 5000)
    pucks = delivered(lamps, 4, "puck", "bench", 100)
    leaflets = delivered(lamps, 5, "leaflet", "bench", 95)
    assert not Need.objects.filter(left__gt=0).exclude(part=lamps.resin).exists()
    globes = moulded_and_sent(lamps, 6)
    step = Step.objects.get(batch__part=lamps.lamp)
    report(event_context=factory.event_context(9), step_id=step.pk, good=95, scrap={"dirty": 5}, done=True)
    lot = Batch.objects.get(part=lamps.lamp).lot
    assert lot is not None
    assert factory.balance(pucks, lamps.bench) == 0 and factory.balance(globes, lamps.bench) == 0
    first = packed(lamps, line, 10, 60, [lot, leaflets])
    wrong = packed(lamps, line, 11, 35, [lot, leaflets])
    open_carton(event_context=factory.event_context(12), carton_id=wrong.pk, reason="label torn")
    second = packed(lamps, line, 13, 35, [lot, leaflets])
    assert differences() == []
    shipment = ship(
        event_context=factory.event_context(14),
        order_id=line.order_id,
        site_id=lamps.bench.pk,
        carton_ids=[first.pk, second.pk],
    )
    assert isinstance(shipment, Shipment), shipment
    assert Order.objects.get().closed_at is not None
    assert factory.balance(lot, lamps.bench, Condition.SOLD_TO) == 95
    assert not Reservation.objects.filter(left__gt=0).exists()
    assert differences() == []
    assert factory.sums_to_zero()


def test_what_was_taken_over_agrees_too() -> None:
    approval = factory.CheckRow("first", "approval", {}, "step", "sending")
    lamps = make_lamps(checks=(approval,))
    line = ordered(lamps, 95)
    open_stock(event_context=factory.event_context(2), part_id=lamps.resin.pk, site_id=lamps.bench.pk, quantity=9)
    batch = adopt_batch(
        event_context=factory.event_context(3), reference="OLD", part_id=lamps.lamp.pk, good={10: 40}, line_id=line.pk
    )
    assert isinstance(batch, Batch)
    assert differences() == []


@pytest.mark.parametrize("column", ["released", "packed", "shipped", "quantity"])
def test_a_line_that_was_tampered_with_is_named(column: str) -> None:
    lamps = make_lamps()
    line = ordered(lamps, 95)
    release(event_context=factory.event_context(2), line_ids=[line.pk])
    assert differences() == []
    OrderLine.objects.update(**{column: 7})
    assert {difference.field for difference in differences()} == {column}


def test_a_purchase_a_need_and_a_carton_that_were_tampered_with_are_named() -> None:
    from traveller.orders.actions.purchase import purchase

    lamps = make_lamps()
    line = ordered(lamps, 95)
    release(event_context=factory.event_context(2), line_ids=[line.pk])
    bought = purchase(
        event_context=factory.event_context(3),
        supplier_id=lamps.supplier.pk,
        deliver_to_id=lamps.bench.pk,
        part_id=lamps.leaflet.pk,
        quantity=95,
    )
    assert isinstance(bought, Purchase)
    answer = receive_purchase(
        event_context=factory.event_context(4), site_id=lamps.bench.pk, quantity=95, purchase_id=bought.pk
    )
    assert isinstance(answer, Delivered)
    finished = open_stock(
        event_context=factory.event_context(5), part_id=lamps.lamp.pk, site_id=lamps.bench.pk, quantity=20
    )
    assert isinstance(finished, Lot)
    carton = packed(lamps, line, 6, 20, [finished, answer.lot])
    assert differences() == []
    Purchase.objects.update(received=3, closed_at=None)
    assert {difference.field for difference in orders.differences()} == {"received", "closed"}
    Purchase.objects.update(received=95, closed_at=factory.MONDAY)
    Need.objects.filter(part=lamps.leaflet).update(left=1)
    assert [difference.field for difference in orders.differences()] == ["left"]
    carton.lots.update(quantity=19)
    assert {difference.field for difference in shipping.differences()} == {"packed"}
    Carton.objects.update(quantity=19)
    assert {difference.field for difference in shipping.differences()} == {"packed", "quantity"}
