"""The stock page: by part, site and lot, and why some of it may not be used."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from sites.models import Site
from tests import factory
from tests.cast import founder_client
from tests.factory import Op
from tests.web.founder.signed_in import assert_costs_the_same, assert_for_the_founder_alone, text_of
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.report import report
from traveller.batches.actions.send import send
from traveller.dispatches.actions.dispatch import SendLine
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Condition
from traveller.ledger.post import Move, Place, post
from traveller.orders import reserved
from traveller.products.models import Part
from traveller.rules.codes import TravellerCode, show_code

pytestmark = pytest.mark.django_db


def shelf(number: str = "FOOT", quantity: int = 1050) -> tuple[Site, Part]:
    bench = factory.make_bench(name="Own bench")
    part = factory.make_part(number, name=number.capitalize())
    factory.make_stock(part, bench, quantity)
    return bench, part


def test_only_the_founder_sees_it() -> None:
    bench, _ = shelf()
    assert_for_the_founder_alone("/stock", bench)


def test_an_empty_record_says_so() -> None:
    factory.make_bench()
    assert "Nothing lies anywhere yet." in text_of(founder_client().get("/stock"))


def test_it_opens_with_what_lies_where() -> None:
    shelf()
    page = text_of(founder_client().get("/stock"))
    assert "1 lot of 1 part at 1 site. Nothing is held and nothing has expired." in page
    assert page.count("1,050") >= 2


def test_a_held_lot_is_not_free_and_says_why() -> None:
    _bench, part = shelf()
    lot = part.lots.get()
    held = hold_lot(event_context=factory.event_context(5), lot_id=lot.pk, reason="flash at the rim")
    assert not isinstance(held, Refusal)
    page = text_of(founder_client().get("/stock?state=held"))
    assert "1 lot is held" in page and "flash at the rim" in page
    assert show_code(TravellerCode(lot.code))[:3] in page


def test_an_expired_lot_is_marked_and_not_free() -> None:
    bench, _ = shelf()
    gum = factory.make_part("GUM", "material", unit="GRM")
    factory.make_stock(gum, bench, 25_000, expires_on=timezone.now().date() - timedelta(days=30))
    page = text_of(founder_client().get("/stock?state=expired"))
    assert "1 has expired" in page and "25 kg" in page and "Foot" not in page.split("By lot")[1]


def test_what_is_kept_for_an_order_line_is_reserved() -> None:
    bench, part = shelf()
    line = factory.make_line(factory.make_order(), part, 400)
    reserved.reserve(
        factory.make_event("keep"), line_id=line.pk, lot_id=part.lots.get().pk, site_id=bench.pk, quantity=400
    )
    page = text_of(founder_client().get("/stock"))
    assert "650 400" in page  # free, then reserved


def test_pieces_between_steps_and_on_the_road_say_what_they_wait_for() -> None:
    bench, moulder = factory.make_bench(name="Own bench"), factory.make_site(name="Ridgeback")
    globe = factory.make_part(name="Globe")
    factory.make_routing(globe, [Op(10, moulder, "mould", "make"), Op(20, moulder, "deburr"), Op(30, bench, "fit")])
    batch = factory.make_batch(globe, destination=bench)
    first, second, _ = batch.steps.order_by("number")
    assert not isinstance(report(event_context=factory.event_context(1), step_id=first.pk, good=100), Refusal)
    assert not isinstance(report(event_context=factory.event_context(2), step_id=second.pk, good=60), Refusal)
    batch.refresh_from_db()
    assert batch.lot_id is not None
    line = SendLine(batch.lot_id, 40, from_step=20)
    sent = send(event_context=factory.event_context(3), origin_id=moulder.pk, destination_id=bench.pk, lines=[line])
    assert not isinstance(sent, Refusal), sent
    page = text_of(founder_client().get("/stock"))
    assert "waits for: deburr" in page
    assert "done: deburr; to be sent on" in page
    assert "on the road to Own bench" in page


def test_what_is_in_cartons_that_have_not_left_is_told_by_part_too() -> None:
    bench, part = shelf()
    lot = part.lots.get()
    there, packed = (Place(lot.pk, bench.pk, condition, 0) for condition in (Condition.STOCK, Condition.PACKED))
    post(factory.make_event("packed"), [Move(there, packed, 300)])
    by_part = text_of(founder_client().get("/stock")).split("By part")[1].split("By lot")[0]
    assert "On the road Packed Foot 750 300" in by_part


def test_the_filter_finds_by_part_site_and_code() -> None:
    shelf()
    puck = factory.make_part("PUCK", "bought")
    other = factory.make_site(name="Printer")
    lot = factory.make_stock(puck, other, 700)
    client = founder_client()
    for query in ("find=puck", f"site={other.pk}", f"find={show_code(TravellerCode(lot.code))}"):
        lots = text_of(client.get(f"/stock?{query}")).split("By lot")[1]
        assert "700" in lots and "1,050" not in lots, query
    assert client.get("/stock?site=nowhere&state=odd&page=99&p-page=x&sort=odd").status_code == 200


def test_it_costs_the_same_with_many_lots() -> None:
    bench, _ = shelf()

    def fill(name: str, n: int) -> None:
        for i in range(n):
            factory.make_stock(factory.make_part(f"{name}{i}"), bench, 10 + i)

    fill("A", 2)
    assert_costs_the_same(founder_client(), "/stock", lambda: fill("B", 27))


def test_fifty_rows_a_page() -> None:
    bench, part = shelf()
    for i in range(60):
        factory.make_stock(part, bench, 1 + i, name=str(i))
    client = founder_client()
    assert "1 to 50 of 61" in text_of(client.get("/stock"))
    assert "51 to 61 of 61" in text_of(client.get("/stock?page=2"))
