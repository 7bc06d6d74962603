"""More came than was ordered: taken in, and what is over the lane's tolerance is held until it is decided."""

from __future__ import annotations

import pytest

from sites.models import Lane
from tests import factory
from tests.globe import Globe, everything_agrees, make_globe, ok
from traveller.batches.actions.decide import decide
from traveller.batches.actions.receive import arrived_unannounced
from traveller.batches.actions.send import send
from traveller.batches.models import Batch
from traveller.dispatches.actions.dispatch import SendLine
from traveller.ledger.models import Condition, Hold

pytestmark = pytest.mark.django_db


def _globe(over_ppm: int | None, made: int = 540) -> Globe:
    """Started for 500, so many made."""
    globe = make_globe(start=500)
    Lane.objects.create(origin=globe.moulder, destination=globe.bench, over_ppm=over_ppm)
    globe.report(20, made)
    globe.report(30, made)
    return globe


def test_what_is_over_the_tolerance_is_a_held_part_of_its_own() -> None:
    globe = _globe(50_000)
    globe.moved(540)
    surplus = globe.children()[0]
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 525
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40, batch=surplus) == 15
    hold = globe.open_holds(surplus)[0]
    assert (hold.code, hold.figures) == ("over_tolerance", {"surplus": 15, "ordered": 500, "most": 525})
    assert not globe.open_holds()
    assert everything_agrees()
    ok(
        decide(
            event_context=globe.event_context(),
            hold_id=hold.pk,
            disposition="release",
            reason="taken at half the price",
        )
    )
    globe.report(40, 15, batch=surplus)
    assert everything_agrees()


def test_the_surplus_of_part_deliveries_is_what_each_adds_to_it() -> None:
    globe = _globe(50_000)
    globe.moved(520)
    assert not globe.children()
    globe.moved(10)
    globe.moved(10)
    assert [child.wanted for child in globe.children()] == [5, 10]
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 525
    assert everything_agrees()


@pytest.mark.parametrize("over_ppm", [None, 80_000])
def test_without_a_tolerance_or_inside_it_nothing_is_held(over_ppm: int | None) -> None:
    globe = _globe(over_ppm)
    globe.moved(540)
    assert not globe.children() and not Hold.objects.exists()
    assert everything_agrees()


def test_a_count_above_what_was_sent_is_over_the_tolerance_too() -> None:
    globe = _globe(0, made=500)
    consignment = ok(globe.send(500))
    event_context = globe.event_context()
    for _ in range(2):
        line = globe.receive(consignment, 503, event_context=event_context).line
    assert line.difference == -3
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 500
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40, batch=globe.children()[0]) == 3
    assert Batch.objects.count() == 2
    assert everything_agrees()


def test_a_surplus_that_was_used_before_it_was_counted_in_is_not_held() -> None:
    globe = _globe(0)
    consignment = ok(globe.send(540))
    globe.report(40, 530)
    globe.receive(consignment, 540)
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40, batch=globe.children()[0]) == 10
    assert everything_agrees()


def test_goods_counted_before_their_dispatch_are_held_to_the_tolerance_as_well() -> None:
    globe = _globe(0)
    ok(
        arrived_unannounced(
            event_context=globe.event_context(), site_id=globe.bench.pk, lot_id=globe.lot().pk, quantity=520
        )
    )
    ok(globe.send(520))
    assert [child.wanted for child in globe.children()] == [20]
    assert everything_agrees()


def test_what_comes_back_for_rework_is_no_delivery() -> None:
    globe = _globe(0, made=500)
    factory.make_lane(globe.bench, globe.moulder)
    globe.moved(500)
    back = SendLine(globe.lot().pk, 10, from_step=40, to_step=30, condition=Condition.IN_PROCESS)
    ends = {"origin_id": globe.bench.pk, "destination_id": globe.moulder.pk, "lines": [back]}
    consignment = ok(send(event_context=globe.event_context(), purpose="return", note="oval", **ends))  # type: ignore[arg-type]
    globe.receive(consignment, 10)
    assert not Hold.objects.exists()
    assert everything_agrees()
