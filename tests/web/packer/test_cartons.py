"""Cartons over HTTP: the packing list, opened again with a reason, shipped; what follows."""

from __future__ import annotations

import pypdfium2
import pytest

from tests import factory
from tests.globe import ok
from tests.shipping.packing import make_bench
from tests.web.packer.packing_phone import Phone, make_phone
from traveller.batches.actions.hold import hold_lot
from traveller.journal.models import Event
from traveller.ledger.models import Condition
from traveller.orders.models import Order
from traveller.shipping.models import Carton, Shipment

pytestmark = pytest.mark.django_db


def packed(phone: Phone, quantity: int = 20) -> Carton:
    phone.kit()
    phone.scan(phone.bench.lot, quantity=str(quantity))
    phone.scan(phone.bench.leaflets)
    phone.pack()
    return phone.carton()


def with_address() -> Phone:
    phone = make_phone()
    Order.objects.update(ship_to="Harbour Outfitters\nQuay 4\n20457 Hamburg")
    return phone


def number(phone: Phone) -> str:
    return phone.hidden("news_id")[0]


def test_a_carton_shows_what_is_in_it_for_whom_and_who_packed_it() -> None:
    phone = with_address()
    carton = packed(phone)
    phone.get(f"/pack/carton/{carton.code}")
    for words in (
        "20 packed in this carton.",
        "order 1001, line 1",
        "Packed by Tomas",
        "Quay 4",
        "Next carton: 30 left",
    ):
        assert words in phone.text


def test_the_packing_list_prints_and_every_print_is_remembered() -> None:
    phone = with_address()
    carton = packed(phone)
    phone.get(f"/pack/carton/{carton.code}")
    for _ in range(2):
        answer = phone.client.post(f"/pack/carton/{carton.code}/list", {"news_id": number(phone)})
        assert answer["Content-Type"] == "application/pdf"
    assert Event.objects.filter(kind="packing list printed").count() == 1, "the same form is the same print"
    text = pypdfium2.PdfDocument(answer.content)[0].get_textpage().get_text_range()
    for words in ("1001", "Quay 4", "Lamp", "20", "30", "Tomas"):
        assert words in text
    assert not {"price", "EUR", "€", "$"} & set(text.replace("\r\n", " ").split())


def test_a_carton_is_opened_again_only_with_a_reason_and_all_goes_back() -> None:
    phone = with_address()
    carton = packed(phone)
    url = f"/pack/carton/{carton.code}"
    phone.get(url)
    phone.post(f"{url}/open", {"news_id": number(phone), "reason": "  "})
    assert phone.status == 422 and "Say why in a few words" in phone.text
    phone.get(url)
    phone.post(f"{url}/open", {"news_id": number(phone), "reason": "red among the amber"})
    assert phone.url == url and "Opened again: everything is back in stock." in phone.text
    site = phone.bench.lamps.bench
    assert (factory.balance(phone.bench.lot, site), factory.balance(phone.bench.leaflets, site)) == (60, 80)
    assert Event.objects.get(kind="carton opened").data["told"]["reason"] == "red among the amber"


def test_an_opened_carton_neither_prints_nor_opens_nor_ships_again() -> None:
    phone = with_address()
    carton = packed(phone)
    url = f"/pack/carton/{carton.code}"
    phone.get(url)
    phone.post(f"{url}/open", {"news_id": number(phone), "reason": "wrong lot"})
    uid = str(factory.uid("again"))
    for way, reported in ((f"{url}/list", {}), (f"{url}/open", {"reason": "once more"})):
        phone.post(way, {"news_id": uid, **reported})
        assert phone.status == 409 and "was opened again" in phone.text
    phone.get(f"/pack/ship/{carton.line.order_id}")
    assert "No carton of order 1001 waits" in phone.text


def test_chosen_cartons_ship_with_their_carrier_and_the_rest_follows() -> None:
    phone = with_address()
    first, _second = packed(phone), packed(phone)
    url = f"/pack/ship/{first.line.order_id}"
    phone.get(url)
    assert "2 cartons wait for order 1001: 40 in all." in phone.text and phone.seen.count(" checked>") == 2
    reported = {"news_id": number(phone), "carton": [first.pk], "carrier": "Coast Parcel"}
    phone.post(url, reported)
    shipment = Shipment.objects.get()
    assert phone.url == f"/pack/shipment/{shipment.code}" and shipment.carrier == "Coast Parcel"
    for words in ("20 shipped for order 1001.", "Coast Parcel", "To follow", "30"):
        assert words in phone.text
    assert factory.balance(phone.bench.lot, phone.bench.lamps.bench, Condition.SOLD_TO) == 20
    phone.post(url, reported)
    assert Shipment.objects.count() == 1 and phone.url == f"/pack/shipment/{shipment.code}", "the same form sent twice"
    phone.get(url)
    assert "One carton waits" in phone.text
    phone.get(f"/pack/carton/{first.code}")
    assert "20 shipped in this carton." in phone.text and "Open it again" not in phone.text
    phone.get(f"/pack/t/{shipment.code}")
    assert phone.url == f"/pack/shipment/{shipment.code}"


def test_an_order_that_left_whole_is_told_to_be_complete() -> None:
    phone = with_address()
    cartons = [packed(phone, 25), packed(phone, 25)]
    url = f"/pack/ship/{cartons[0].line.order_id}"
    phone.get(url)
    phone.post(url, {"news_id": number(phone), "carton": [carton.pk for carton in cartons]})
    assert "The order is complete." in phone.text and "To follow" not in phone.text
    phone.get("/pack/")
    assert "Nothing is left to pack." in phone.text


def test_nothing_chosen_ships_nothing_and_the_carrier_stays_typed() -> None:
    phone = with_address()
    carton = packed(phone)
    url = f"/pack/ship/{carton.line.order_id}"
    phone.get(url)
    phone.post(url, {"news_id": number(phone), "carrier": "Coast Parcel"})
    assert phone.status == 409 and "Choose at least one" in phone.text
    assert 'value="Coast Parcel"' in phone.seen and " checked>" not in phone.seen


def test_a_carton_whose_lot_was_held_since_does_not_leave() -> None:
    phone = with_address()
    carton = packed(phone)
    ok(hold_lot(event_context=factory.event_context("late"), lot_id=phone.bench.lot.pk, reason="leaks"))
    url = f"/pack/ship/{carton.line.order_id}"
    phone.get(url)
    phone.post(url, {"news_id": number(phone), "carton": [carton.pk]})
    assert phone.status == 409 and "leaks" in phone.text and not Shipment.objects.exists()


def test_a_carton_of_another_order_is_refused_by_its_code() -> None:
    phone = with_address()
    carton = packed(phone)
    other = factory.make_order("2002")
    phone.post(f"/pack/ship/{other.pk}", {"news_id": str(factory.uid("x")), "carton": [carton.pk]})
    assert phone.status == 409 and "is not for order 2002" in phone.text


def test_a_carton_at_another_bench_does_not_exist_here() -> None:
    phone = with_address()
    carton = packed(phone)
    Carton.objects.update(site=factory.make_bench("second bench"))
    for url in (f"/pack/carton/{carton.code}", "/pack/carton/0000000", "/pack/shipment/0000000", "/pack/ship/999999"):
        phone.get(url)
        assert phone.status == 404


def test_cartons_that_wait_stand_on_the_list_by_order() -> None:
    phone = Phone(bench := make_bench(), make_phone(bench).client)
    packed(phone)
    packed(phone)
    phone.get("/pack/")
    assert "Packed, to be shipped Order 1001 2 cartons" in phone.text
