"""Shipping: nothing held leaves, cartons leave once, and a complete order closes."""

from __future__ import annotations

import pytest

from tests import factory
from tests.paper.reading import texts
from tests.shipping.packing import Bench, make_bench
from traveller.batches.actions.decide import decide
from traveller.batches.actions.hold import hold_lot
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.ledger import holds
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Move, Place, post
from traveller.orders.actions.release import release
from traveller.orders.models import Need, Order, OrderLine, Reservation
from traveller.orders.plan import make_plan
from traveller.paper.packing_list import draw_packing_list
from traveller.rules.codes import show_code
from traveller.shipping.actions.open_carton import open_carton
from traveller.shipping.actions.print_packing_list import PrintedList, print_packing_list
from traveller.shipping.actions.ship import ship
from traveller.shipping.models import Carton, Shipment
from traveller.shipping.papers import packing_list

pytestmark = pytest.mark.django_db


def shipped(bench: Bench, n: int, *cartons: Carton) -> Shipment | Refusal:
    return ship(
        event_context=factory.event_context(n),
        order_id=bench.line.order_id,
        site_id=bench.lamps.bench.pk,
        carton_ids=[carton.pk for carton in cartons],
        carrier="Coast Parcel",
    )


def sold(bench: Bench, lot: Lot) -> int:
    return factory.balance(lot, bench.lamps.bench, Condition.SOLD_TO)


def test_cartons_leave_with_everything_in_them() -> None:
    bench = make_bench()
    first, second = bench.carton(1, 10), bench.carton(2, 15)
    shipment = shipped(bench, 3, first, second)
    assert isinstance(shipment, Shipment)
    assert list(shipment.cartons.all()) == [first, second]
    assert (sold(bench, bench.lot), sold(bench, bench.leaflets)) == (25, 25)
    assert factory.balance(bench.lot, bench.lamps.bench, Condition.PACKED) == 0
    bench.line.refresh_from_db()
    assert (bench.line.packed, bench.line.shipped) == (25, 25)
    assert factory.sums_to_zero()
    assert Order.objects.get().closed_at is None


def test_a_shipment_told_twice_leaves_once() -> None:
    bench = make_bench()
    carton = bench.carton(1)
    assert shipped(bench, 2, carton) == shipped(bench, 2, carton)
    assert sold(bench, bench.lot) == 10 and Shipment.objects.count() == 1


def test_a_carton_whose_lot_was_held_since_does_not_leave_nor_do_those_beside_it() -> None:
    bench = make_bench()
    good = bench.carton(1)
    other = factory.make_stock(bench.lamps.leaflet, bench.lamps.bench, 20, name="misprinted")
    bench.leaflets = other
    bad = bench.carton(2)
    event = factory.make_event("h", kind="held")
    hold = holds.open_hold(event, other, cause="founder", code="misprint")
    answer = shipped(bench, 3, good, bad)
    assert isinstance(answer, Refusal)
    assert (answer.code, answer.figures["purpose"], answer.figures["lot"]) == ("held", "ship", other.code)
    assert sold(bench, bench.lot) == 0
    assert isinstance(shipped(bench, 4, good), Shipment)
    holds.close_hold(event, hold, disposition="release", reason="reprinted")
    assert isinstance(shipped(bench, 5, bad), Shipment)


def test_nothing_leaves_while_an_earlier_step_is_untold() -> None:
    bench = make_bench()
    carton = bench.carton(1)
    globes = Lot.objects.get(part=bench.lamps.globe)
    place = Place(globes.pk, bench.lamps.moulder.pk, Condition.UNREPORTED, 20)
    away = place.become(Condition.SCRAP)
    post(factory.make_event("late", kind="counted"), [Move(place, away, 3)])
    answer = shipped(bench, 2, carton)
    assert isinstance(answer, Refusal)
    assert (answer.code, answer.figures["lot"], answer.figures["quantity"]) == ("unreported", globes.code, 3)
    post(factory.make_event("told", kind="counted"), [Move(away, place, 3)])
    assert isinstance(shipped(bench, 3, carton), Shipment)


def test_an_order_closes_when_every_line_is_complete_and_frees_what_was_kept() -> None:
    bench = make_bench(ordered=50)
    release(event_context=factory.event_context(1), line_ids=[bench.line.pk])
    Reservation.objects.filter(lot=bench.leaflets).update(left=50)
    first = bench.carton(2, 30)
    shipped(bench, 3, first)
    assert Order.objects.get().closed_at is None
    shipped(bench, 4, bench.carton(5, 20))
    order = Order.objects.get()
    assert order.closed_at == factory.event_context(4).at
    assert not Reservation.objects.filter(left__gt=0).exists()
    assert not Need.objects.filter(left__gt=0).exists()


def test_under_delivery_within_the_tolerance_closes_and_below_it_does_not() -> None:
    bench = make_bench(ordered=50)
    OrderLine.objects.update(under_ppm=60_000)
    shipped(bench, 1, bench.carton(2, 46))
    assert Order.objects.get().closed_at is None
    shipped(bench, 3, bench.carton(4, 1))
    assert Order.objects.get().closed_at is not None


def test_an_order_with_a_carton_still_here_stays_open() -> None:
    bench = make_bench(ordered=50)
    OrderLine.objects.update(under_ppm=200_000)
    most, rest = bench.carton(1, 45), bench.carton(2, 5)
    shipped(bench, 3, most)
    assert Order.objects.get().closed_at is None
    shipped(bench, 4, rest)
    assert Order.objects.get().closed_at is not None


def test_what_a_closed_order_did_not_take_of_its_batch_is_free_again() -> None:
    bench = make_bench(ordered=50)
    from traveller.orders.models import BatchShare

    BatchShare.objects.create(batch=bench.batch, line=bench.line, quantity=60)
    second = bench.lamps.line(60, order=factory.make_order("1002"))
    on = factory.MONDAY.date()

    def free() -> int:
        plan = make_plan([second.pk], on=on)
        return sum(row.quantity for row in plan.reservations if row.part == "LAMP")

    assert free() == 0
    shipped(bench, 1, bench.carton(2, 50))
    assert free() == 10


def test_cartons_that_can_not_leave_are_named() -> None:
    bench = make_bench()
    carton, opened = bench.carton(1), bench.carton(2)
    open_carton(event_context=factory.event_context(3), carton_id=opened.pk, reason="wrong")
    refused = [shipped(bench, 4), shipped(bench, 5, opened)]
    assert [answer.code for answer in refused if isinstance(answer, Refusal)] == ["nothing_to_ship", "carton_opened"]
    other = factory.make_order("1002")
    elsewhere = ship(
        event_context=factory.event_context(6), order_id=other.pk, site_id=bench.lamps.bench.pk, carton_ids=[carton.pk]
    )
    assert isinstance(elsewhere, Refusal) and elsewhere.code == "carton_of_another_order"
    away = ship(
        event_context=factory.event_context(7),
        order_id=bench.line.order_id,
        site_id=bench.lamps.moulder.pk,
        carton_ids=[carton.pk],
    )
    assert isinstance(away, Refusal) and away.code == "carton_elsewhere"
    unknown = ship(
        event_context=factory.event_context(8),
        order_id=bench.line.order_id,
        site_id=bench.lamps.bench.pk,
        carton_ids=[0],
    )
    assert isinstance(unknown, Refusal) and unknown.code == "no_such_carton"
    assert isinstance(shipped(bench, 9, carton), Shipment)
    twice = shipped(bench, 10, carton)
    assert isinstance(twice, Refusal) and twice.code == "carton_shipped"
    kept_shut = open_carton(event_context=factory.event_context(11), carton_id=carton.pk, reason="too late")
    assert isinstance(kept_shut, Refusal) and kept_shut.code == "carton_shipped"


def test_the_packing_list_tells_what_is_in_the_carton_and_what_follows() -> None:
    bench = make_bench(ordered=50)
    first, second = bench.carton(1, 20), bench.carton(2, 10)
    content = packing_list(second.pk, on=factory.MONDAY.date())
    assert (content.carton, content.cartons, content.order, content.packer) == (2, 2, "1001", "Tomas")
    line, leaflet = content.lines
    assert (line.ordered, line.shipped, line.to_follow, line.lots) == (50, 10, 20, (bench.lot.code,))
    assert (leaflet.product, leaflet.shipped, leaflet.lots) == ("Leaflet", 10, (bench.leaflets.code,))
    assert packing_list(first.pk, on=factory.MONDAY.date()).lines[0].to_follow == 30


def test_a_packing_list_says_what_of_its_carton_may_not_be_shipped_until_it_is_gone() -> None:
    bench = make_bench(ordered=50)
    carton, on = bench.carton(1, 20), factory.MONDAY.date()
    assert packing_list(carton.pk, on=on).stopped == ()
    hold = hold_lot(event_context=factory.event_context("h"), lot_id=bench.leaflets.pk, reason="misprinted")
    assert not isinstance(hold, Refusal)
    content = packing_list(carton.pk, on=on)
    assert content.stopped == (f"Leaflet, {show_code(bench.leaflets.code)}: HELD: do not use",)
    printed = " ".join(texts(draw_packing_list(content, size="Letter")))
    assert "Do not ship" in printed and "HELD: do not use" in printed
    decide(event_context=factory.event_context("d"), hold_id=hold.holds[0].pk, disposition="release", reason="fine")
    assert isinstance(shipped(bench, 2, carton), Shipment)
    hold_lot(event_context=factory.event_context("h2"), lot_id=bench.leaflets.pk, reason="again")
    assert packing_list(carton.pk, on=on).stopped == ()


def test_the_net_weight_is_printed_only_when_every_mass_is_known() -> None:
    bench = make_bench()
    carton = bench.carton(1, 10)
    assert packing_list(carton.pk, on=factory.MONDAY.date()).net_weight == ""
    type(bench.lamps.lamp).objects.filter(pk=bench.lamps.lamp.pk).update(piece_mass_mg=120_500)
    assert packing_list(carton.pk, on=factory.MONDAY.date()).net_weight == ""
    type(bench.lamps.lamp).objects.filter(pk=bench.lamps.leaflet.pk).update(piece_mass_mg=2_000)
    assert packing_list(carton.pk, on=factory.MONDAY.date()).net_weight == "1.225 kg"


def test_printing_a_packing_list_is_remembered_once_a_request() -> None:
    bench = make_bench()
    carton = bench.carton(1)
    first = print_packing_list(event_context=factory.event_context(2), carton_id=carton.pk)
    again = print_packing_list(event_context=factory.event_context(2), carton_id=carton.pk)
    assert isinstance(first, PrintedList) and isinstance(again, PrintedList)
    assert first.pdf.startswith(b"%PDF") and first.event == again.event
    assert Event.objects.filter(kind="packing list printed").count() == 1
    open_carton(event_context=factory.event_context(3), carton_id=carton.pk, reason="wrong")
    gone = print_packing_list(event_context=factory.event_context(4), carton_id=carton.pk)
    assert isinstance(gone, Refusal) and gone.code == "carton_opened"
