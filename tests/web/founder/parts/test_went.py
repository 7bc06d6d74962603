"""The page of a lot names where every piece of it is or went: places, cartons with customer, other lots, each once."""

from __future__ import annotations

import pytest

from tests import factory
from tests.cast import founder_client
from tests.globe import make_globe, ok
from tests.shipping.packing import Bench, make_bench
from tests.shipping.test_ship import shipped
from tests.web.founder.signed_in import text_of
from traveller.batches.actions.hold import hold_lot
from traveller.ledger.models import Lot
from traveller.shipping.actions.open_carton import open_carton
from traveller.shipping.models import Carton, Shipment
from traveller.web.founder.parts.went import where_it_went

pytestmark = pytest.mark.django_db


def rows_of(lot: Lot) -> list[tuple[int, str]]:
    """Quantity and words; they must sum to all that the lot ever had."""
    accounts = list(lot.accounts.exclude(balance=0).select_related("site").order_by("condition", "site__name", "step"))
    went = where_it_went(lot, accounts)
    assert sum(row.quantity for row in went.rows) == went.total
    return [(row.quantity, row.words.replace("\u2011", "-")) for row in went.rows]


def _opened(bench: Bench, carton: Carton) -> None:
    event_context = factory.event_context(f"open {carton.pk}")
    ok(open_carton(event_context=event_context, carton_id=carton.pk, reason="red among the clear"))


def test_shipped_packed_opened_and_left_over_are_each_told_once() -> None:
    bench = make_bench()
    sold, waiting, reopened = bench.carton(1, 10), bench.carton(2, 15), bench.carton(3, 5)
    _opened(bench, reopened)
    shipment = shipped(bench, 4, sold)
    assert isinstance(shipment, Shipment)
    told = rows_of(bench.lot)
    assert [quantity for quantity, _ in told] == [35, 10, 15]
    assert told[0][1] == "in stock, Bench"
    assert told[1][1].startswith("shipped to Harbour Outfitters in carton ")
    assert told[2][1].startswith("in carton ") and "for Harbour Outfitters" in told[2][1]
    assert waiting.code in told[2][1].replace("-", "") and shipment.code in told[1][1].replace("-", "")
    words = text_of(founder_client().get(f"/lots/{bench.lot.code}"))
    assert "Nothing recorded" not in words.partition("Where it went")[2].partition("History")[0]
    assert "shipped to Harbour Outfitters in carton" in words and "60 in all: every piece is accounted for" in words


def test_scrap_and_the_road_are_told_by_place() -> None:
    globe = make_globe(start=100)
    globe.report(20, 90, scrap={"short": 10})
    globe.report(30, 90)
    ok(globe.send(60))
    assert rows_of(globe.lot()) == [
        (60, "on the road from Moulder to Bench"),
        (10, "scrap, Moulder, step 20"),
        (30, "in stock, Moulder, step 30"),
    ]


def test_what_was_used_is_told_part_by_part() -> None:
    bench = make_bench()
    globes = Lot.objects.get(part=bench.lamps.globe)
    assert (60, "made into Lamp") in rows_of(globes) and (40, "in stock, Bench") in rows_of(globes)


def test_the_hold_page_shows_each_quantity_once_where_it_is_now() -> None:
    bench = make_bench()
    waiting, reopened = bench.carton(1, 15), bench.carton(2, 9)
    _opened(bench, reopened)
    held = ok(hold_lot(event_context=factory.event_context("hold"), lot_id=bench.lot.pk, reason="a crack"))
    hold = held.holds[0]
    words = text_of(founder_client().get(f"/holds/{hold.pk}"))
    assert "45 in stock at Bench" in words, "what is in a carton is not among what lies here"
    assert "packed at" not in words
    shown = words.replace("-", "").replace(" ", "")
    assert waiting.code in shown and reopened.code not in shown
    globes = Lot.objects.get(part=bench.lamps.globe)
    below = ok(hold_lot(event_context=factory.event_context("globes"), lot_id=globes.pk, reason="a crack"))
    words = text_of(founder_client().get(f"/holds/{below.holds[0].pk}"))
    assert "Lies somewhere, in no carton" in words
    line = words.partition("What was made of it")[2].partition("Cartons with it")[0]
    assert " 45 " in line and " 60 " not in line and " 15 " not in line
