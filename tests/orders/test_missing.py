"""What closed batches did not bring is missing from their order lines, and is made again."""

from __future__ import annotations

import pytest

from tests import factory
from tests.globe import Globe, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.hold import hold_part
from traveller.ledger.models import Condition
from traveller.ledger.post import Place
from traveller.orders import verify as orders_verify
from traveller.orders.actions.make_again import make_again
from traveller.orders.missing import missing
from traveller.orders.models import BatchShare, OrderLine

pytestmark = pytest.mark.django_db


def _shared(globe: Globe, quantity: int = 50) -> OrderLine:
    line = factory.make_line(factory.make_order(), globe.part, quantity, released=quantity)
    BatchShare.objects.create(batch=globe.batch, line=line, quantity=quantity)
    return line


def _short(*, globe: Globe) -> list[tuple[int, int]]:
    return [(row.brought, row.missing) for row in missing(batch_id=globe.batch.pk)]


def test_nothing_is_missing_of_a_batch_that_is_under_way() -> None:
    globe = make_globe(start=60)
    _shared(globe)
    globe.report(20, 5)
    assert _short(globe=globe) == []
    assert refused(make_again(event_context=globe.event_context(), batch_id=globe.batch.pk)).code == "nothing_missing"


def test_a_batch_with_no_good_piece_owes_its_whole_share() -> None:
    globe = make_globe(start=60)
    line = _shared(globe)
    globe.report(20, 0, scrap={"short": 60}, done=True)
    assert _short(globe=globe) == [(0, 50)]
    fresh = ok(make_again(event_context=globe.event_context(), batch_id=globe.batch.pk))
    assert (fresh.wanted, fresh.start, fresh.destination) == (50, 50, globe.batch.destination)
    assert BatchShare.objects.get().batch == fresh
    line.refresh_from_db()
    assert line.released == 50
    assert [row for row in orders_verify.differences() if row.field != "released"] == [], "released by hand above"
    assert everything_agrees()


def test_a_share_may_be_missing_in_part_and_the_first_batch_keeps_the_rest() -> None:
    globe = make_globe(start=60)
    _shared(globe)
    globe.report(20, 60, done=True)
    globe.report(30, 40, scrap={"warped": 20}, done=True)
    globe.moved(40)
    globe.report(40, 40, done=True)
    globe.report(50, 30, scrap={"dirty": 10}, done=True)
    assert _short(globe=globe) == [], "thirty lie on the shelf"
    product = factory.make_part("LANTERN")
    factory.make_routing(product, [factory.Op(10, globe.bench, "assemble", "make")])
    factory.make_bill(product, globe.part, step=10)
    lantern = factory.make_batch(product, wanted=30)
    globe.report(10, 30, batch=lantern)
    assert _short(globe=globe) == [(30, 20)]
    fresh = ok(make_again(event_context=globe.event_context(), batch_id=globe.batch.pk))
    assert sorted(BatchShare.objects.values_list("batch", "quantity")) == [(globe.batch.pk, 30), (fresh.pk, 20)]
    assert _short(globe=globe) == []


def test_what_was_split_off_counts_while_it_lies_somewhere() -> None:
    globe = make_globe(start=60)
    _shared(globe)
    globe.report(20, 60, done=True)
    place = Place(globe.lot().pk, globe.moulder.pk, Condition.IN_PROCESS, 30)
    ok(hold_part(event_context=globe.event_context(), batch_id=globe.batch.pk, place=place, quantity=20, reason="wet"))
    globe.report(30, 0, scrap={"warped": 40}, done=True)
    assert _short(globe=globe) == []
    (child,) = globe.children()
    globe.report(30, 0, scrap={"warped": 20}, batch=child, done=True)
    assert _short(globe=globe) == [(0, 50)]


def test_making_again_told_twice_makes_one_batch() -> None:
    globe = make_globe(start=60)
    _shared(globe)
    globe.report(20, 0, scrap={"short": 60}, done=True)
    first = ok(make_again(event_context=factory.event_context("again"), batch_id=globe.batch.pk))
    assert ok(make_again(event_context=factory.event_context("again"), batch_id=globe.batch.pk)) == first
