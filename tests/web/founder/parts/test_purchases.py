"""Purchases: noted, delivered under the supplier's lot number, in the unit of the bag."""

from __future__ import annotations

from datetime import date

import pytest
from django.test import Client

from sites.models import Site
from tests import factory
from tests.cast import founder_client
from tests.web.founder.signed_in import assert_costs_the_same, assert_for_the_founder_alone, news_id, text_of
from traveller.ledger.models import Lot
from traveller.orders.models import Need, Purchase
from traveller.products.models import Part

pytestmark = pytest.mark.django_db


def gum() -> tuple[Site, Site, Part]:
    bench, supplier = factory.make_bench(name="Own bench"), factory.make_site("resins", "supplier", name="Maumee")
    part = factory.make_part("GUM", "material", unit="GRM", name="Gum", supplier=supplier)
    return bench, supplier, part


def bought(client: Client, quantity: str = "25 kg", **more: str) -> Purchase:
    form = {"news_id": news_id(), "part": "GUM", "quantity": quantity, "supplier": "resins", "deliver_to": "bench"}
    answer = client.post("/purchases/new", {**form, **more})
    assert answer.status_code == 302, text_of(answer)
    return Purchase.objects.latest("pk")


def test_only_the_founder_buys() -> None:
    bench, *_ = gum()
    purchase = bought(founder_client())
    for path in ("/purchases", "/purchases/new", f"/purchases/{purchase.code}"):
        assert_for_the_founder_alone(path, bench)


def test_a_purchase_is_noted_once_and_listed() -> None:
    gum()
    client = founder_client()
    assert "Nothing is on order. Released orders wait for nothing else." in text_of(client.get("/purchases"))
    reported = news_id()
    for _ in range(2):
        purchase = bought(client, news_id=reported, due_on="2026-04-01")
    assert Purchase.objects.count() == 1
    assert (purchase.quantity, purchase.due_on) == (25_000, date(2026, 4, 1))
    page = text_of(client.get("/purchases"))
    assert "1 purchase is open" in page and "25 kg" in page


def test_pounds_are_kept_as_typed_and_converted_once() -> None:
    gum()
    client = founder_client()
    purchase = bought(client)
    form = {"news_id": news_id(), "outside_number": "NR-2209", "quantity": "3", "unit": "lb"}
    assert client.post(f"/purchases/{purchase.code}", form).status_code == 302
    # A pound is 453.59237 g exactly (international yard and pound, 1959): three are 1360.777 g, 55 are 24947.580 g.
    purchase.refresh_from_db()
    assert (purchase.received, Lot.objects.get().born_event.data["told"]["typed"]) == (1361, "3 lb")
    assert "3 lb = 1.361 kg" in text_of(client.get(f"/purchases/{purchase.code}"))
    ordered = bought(client, "55 lb")
    assert ordered.quantity == 24_948
    assert "55 lb = 24.948 kg" in text_of(client.get(f"/purchases/{ordered.code}"))
    assert "55 lb" not in text_of(client.get(f"/purchases/{bought(client, '24.948 kg').code}"))


def test_a_delivery_makes_a_lot_under_the_suppliers_number() -> None:
    bench, _supplier, _part = gum()
    client = founder_client()
    purchase = bought(client)
    form = {
        "news_id": news_id(),
        "outside_number": "NR-2209",
        "quantity": "12.5",
        "unit": "kg",
        "expires_on": "2099-12-16",
    }
    for _ in range(2):
        assert client.post(f"/purchases/{purchase.code}", form).status_code == 302
    lot = Lot.objects.get()
    assert (lot.outside_number, lot.expires_on) == ("NR-2209", date(2099, 12, 16))
    assert factory.balance(lot, bench) == 12_500
    page = text_of(client.get(f"/purchases/{purchase.code}"))
    assert "12.5 kg have come so far." in page and "NR-2209" in page
    rest = {"news_id": news_id(), "quantity": "12", "unit": "kg", "final": "on"}
    assert client.post(f"/purchases/{purchase.code}", rest).status_code == 302
    assert "It is complete." in text_of(client.get(f"/purchases/{purchase.code}"))


@pytest.mark.parametrize("quantity", ["0", "-5", "lots", "", "1,000,000,000,000,000,000"])
def test_an_odd_delivery_is_said_and_kept(quantity: str) -> None:
    gum()
    client = founder_client()
    purchase = bought(client)
    form = {"news_id": news_id(), "outside_number": "NR-1", "quantity": quantity, "unit": "kg"}
    answer = client.post(f"/purchases/{purchase.code}", form)
    assert answer.status_code == 422 and form["news_id"] in answer.content.decode()
    assert 'value="NR-1"' in answer.content.decode() and not Lot.objects.exists()


def test_what_released_orders_wait_for_asks_to_be_bought_and_fills_the_form() -> None:
    _bench, _supplier, part = gum()
    line = factory.make_line(factory.make_order(), factory.make_part("LAMP"), 10)
    event = factory.make_event("need")
    Need.objects.create(line=line, part=part, quantity=5000, left=5000, needed_on=date(2026, 3, 9), event=event)
    client = founder_client()
    page = client.get("/purchases")
    assert "1 part is still to be bought." in text_of(page) and "5 kg Gum: released orders need them" in text_of(page)
    form = client.get("/purchases/new?part=GUM&quantity=5000").content.decode()
    assert 'value="5 kg"' in form and '<option value="resins" selected>' in form


def test_an_unknown_purchase_is_not_found() -> None:
    gum()
    assert founder_client().get("/purchases/ABCDEFG").status_code == 404


def test_they_cost_the_same_with_many() -> None:
    gum()
    client = founder_client()
    for _ in range(3):
        bought(client)
    assert_costs_the_same(client, "/purchases", lambda: [bought(client) for _ in range(27)])
