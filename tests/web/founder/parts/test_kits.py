"""The kits page: kits now, what limits them, and the drawing with its table."""

from __future__ import annotations

from datetime import timedelta

import pytest

from sites.models import Site
from tests import factory
from tests.cast import founder_client
from tests.factory import Op
from tests.web.founder.signed_in import assert_costs_the_same, assert_for_the_founder_alone, text_of
from traveller.batches.actions.hold import hold_lot
from traveller.journal.refusal import Refusal
from traveller.products.models import Part

pytestmark = pytest.mark.django_db


def lantern(name: str = "AMBER", *, wanted: int = 1000) -> tuple[Site, Part, Part, Part]:
    """A lantern of a globe and a band, on order; a thousand globes and 410 bands lie at the bench."""
    bench = Site.objects.filter(kind="own").first() or factory.make_bench(name="Own bench")
    lamp = factory.make_part(f"LAMP-{name}", name="Lantern", variant=name.lower())
    globe = factory.make_part(f"GLOBE-{name}", name="Globe", variant=name.lower())
    band = factory.make_part(f"BAND-{name}", name="Band", variant=name.lower())
    factory.make_routing(lamp, [Op(10, bench, "assemble", "make")])
    factory.make_bill(lamp, globe, step=10)
    factory.make_bill(lamp, band, step=10)
    factory.make_stock(globe, bench, 1006)
    factory.make_stock(band, bench, 410)
    factory.make_line(factory.make_order(f"order {name}"), lamp, wanted)
    return bench, lamp, globe, band


def test_only_the_founder_sees_it() -> None:
    bench, *_ = lantern()
    assert_for_the_founder_alone("/kits", bench)


def test_without_orders_it_says_so() -> None:
    factory.make_bench()
    assert "No open order waits to be assembled." in text_of(founder_client().get("/kits"))


def test_kits_are_the_least_component_and_the_next_is_named() -> None:
    lantern()
    page = text_of(founder_client().get("/kits"))
    assert "Can be assembled now: 410 of 1,000 Lantern, amber. Band, amber limits Lantern, amber." in page
    assert "Lantern, amber 1,000 410 Band, amber – Globe, amber, at 1,006" in page


def test_the_drawing_has_its_table_with_every_readiness() -> None:
    bench, _lamp, _globe, band = lantern()
    printer = factory.make_site("printer", name="Printer")
    factory.make_stock(band, printer, 420, name="there")
    held = factory.make_stock(band, bench, 210, name="bad")
    assert not isinstance(
        hold_lot(event_context=factory.event_context(9), lot_id=held.pk, reason="oven log short"), Refusal
    )
    answer = founder_client().get("/kits?part=LAMP-AMBER")
    html = answer.content.decode()
    assert html.count("<svg") >= 2 and "410 kits can be assembled now" in html
    assert "Band, amber 1 410 420 210 420 · Printer · in stock · " in text_of(answer)


def test_a_held_component_counts_for_no_kit() -> None:
    _bench, _lamp, _globe, band = lantern()
    assert not isinstance(
        hold_lot(event_context=factory.event_context(9), lot_id=band.lots.get().pk, reason="odd"), Refusal
    )
    assert "0 of 1,000 Lantern, amber" in text_of(founder_client().get("/kits"))


def test_when_all_that_is_wanted_can_be_assembled_nothing_limits() -> None:
    lantern(wanted=400)
    page = text_of(founder_client().get("/kits"))
    assert "400 of 400 Lantern, amber." in page and "limits Lantern" not in page
    assert "Band, amber, at 410" in page


def test_it_costs_the_same_with_many_products() -> None:
    lantern("A0")
    lantern("A1")
    lantern("A2")
    assert_costs_the_same(founder_client(), "/kits", lambda: [lantern(f"B{i}") for i in range(27)])


def test_all_that_are_missing_limit_together() -> None:
    _bench, lamp, _globe, _band = lantern()
    factory.make_bill(lamp, factory.make_part("CLIP", "bought", name="Clip"), step=10)
    factory.make_bill(lamp, factory.make_part("PUCK", "bought", name="Puck"), step=10)
    page = text_of(founder_client().get("/kits"))
    assert "0 of 1,000 Lantern, amber. Clip, Puck limit Lantern, amber." in page
    assert "Clip, Puck Clip: – Puck: – Band, amber, at 410" in page


def test_a_shared_part_is_counted_once_and_limits_the_product_due_later() -> None:
    bench, _lamp, _globe, band = lantern(wanted=300)
    other = factory.make_part("LAMP-CLEAR", name="Lantern", variant="clear")
    factory.make_routing(other, [Op(10, bench, "assemble", "make")])
    factory.make_bill(other, band, step=10)
    factory.make_line(factory.make_order("later"), other, 200, due_on=factory.MONDAY.date() + timedelta(days=90))
    page = text_of(founder_client().get("/kits"))
    assert "300 of 300 Lantern, amber, 110 of 200 Lantern, clear. Band, amber limits Lantern, clear." in page
