"""Goods leave a site: what may go, where to, and how much."""

from __future__ import annotations

import pytest

from tests import factory
from tests.globe import everything_agrees, make_globe, ok, refused
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.send import send
from traveller.dispatches.actions.dispatch import SendLine, next_note_serial
from traveller.dispatches.models import Consignment
from traveller.ledger.models import Condition

pytestmark = pytest.mark.django_db


def test_pieces_travel_to_the_step_that_waits_for_them() -> None:
    globe = make_globe()
    globe.report(20, 100)
    globe.report(30, 100)
    consignment = ok(globe.send(60, carrier="van"))
    line = consignment.lines.get()
    assert (line.sent, line.from_step, line.to_step) == (60, 30, 40)
    assert globe.at(globe.moulder, Condition.ON_THE_ROAD, 40) == 60
    assert consignment.carrier == "van"
    assert everything_agrees()


def test_the_same_sending_twice_is_one_consignment() -> None:
    globe = make_globe()
    globe.report(20, 100)
    globe.report(30, 100)
    event_context = globe.event_context()
    assert ok(globe.send(60, event_context=event_context)) == ok(globe.send(60, event_context=event_context))
    assert Consignment.objects.count() == 1
    assert refused(globe.send(61, event_context=event_context)).code == "told_otherwise"
    assert globe.at(globe.moulder, Condition.ON_THE_ROAD, 40) == 60


def test_no_more_is_sent_than_lies_on_the_shelf() -> None:
    globe = make_globe()
    globe.report(20, 100)
    globe.report(30, 100)
    refusal = refused(globe.send(101))
    assert (refusal.code, refusal.figures["there"], refusal.figures["wanted"]) == ("short", 100, 101)
    assert not Consignment.objects.exists()
    assert refused(globe.send(0)).code == "not_a_quantity"


def test_pieces_are_not_sent_past_their_next_shop_nor_to_where_they_are() -> None:
    globe = make_globe()
    globe.report(20, 100)
    globe.report(30, 100)
    printer = factory.make_site("printer")
    line = SendLine(globe.lot().pk, 10, from_step=30)
    ends = {"origin_id": globe.moulder.pk, "lines": [line]}
    wrong = send(event_context=globe.event_context(), destination_id=printer.pk, **ends)  # type: ignore[arg-type]
    assert refused(wrong).code == "wrong_destination"
    stock = SendLine(globe.lot().pk, 10)
    same = send(
        event_context=globe.event_context(), origin_id=globe.moulder.pk, destination_id=globe.moulder.pk, lines=[stock]
    )
    assert refused(same).code == "same_site"
    none = send(
        event_context=globe.event_context(), origin_id=globe.moulder.pk, destination_id=globe.bench.pk, lines=[]
    )
    assert refused(none).code == "nothing_to_send"


def test_free_issue_resin_goes_to_the_moulders_shelf() -> None:
    globe = make_globe()
    resin = factory.make_stock(factory.make_part("RESIN", "material", unit="GRM"), globe.bench, 25_000)
    consignment = ok(
        send(
            event_context=globe.event_context(),
            origin_id=globe.bench.pk,
            destination_id=globe.moulder.pk,
            lines=[SendLine(resin.pk, 20_000)],
            purpose="free issue",
            owner="the maker",
        )
    )
    assert factory.balance(resin, globe.bench, Condition.ON_THE_ROAD) == 20_000
    globe.receive(consignment, 20_000)
    assert factory.balance(resin, globe.moulder) == 20_000
    assert factory.balance(resin, globe.bench) == 5_000
    assert everything_agrees()


def test_several_lots_travel_on_one_consignment_and_each_is_counted() -> None:
    bench, moulder = factory.make_bench(), factory.make_site()
    part = factory.make_part("PUCK", "bought")
    lots = [factory.make_stock(part, bench, 100, name=name) for name in ("a", "b")]
    consignment = ok(
        send(
            event_context=factory.event_context(1),
            origin_id=bench.pk,
            destination_id=moulder.pk,
            lines=[SendLine(lot.pk, 40) for lot in lots],
            purpose="stock",
        )
    )
    from traveller.batches.actions.receive import receive

    first, second = consignment.lines.order_by("id")
    ok(receive(event_context=factory.event_context(2), line_id=first.pk, quantity=40))
    consignment.refresh_from_db()
    assert consignment.received_at is None
    ok(receive(event_context=factory.event_context(3), line_id=second.pk, quantity=38))
    consignment.refresh_from_db()
    assert consignment.received_at == factory.event_context(3).at
    assert everything_agrees()


def test_a_held_lot_is_refused_and_may_be_returned() -> None:
    bench, supplier = factory.make_bench(), factory.make_site("pucks", "supplier")
    lot = factory.make_stock(factory.make_part("PUCK", "bought"), bench, 100)
    ok(hold_lot(event_context=factory.event_context(1), lot_id=lot.pk, reason="dim"))
    ends = {"origin_id": bench.pk, "destination_id": supplier.pk, "lines": [SendLine(lot.pk, 100)]}
    held = send(event_context=factory.event_context(2), purpose="stock", **ends)  # type: ignore[arg-type]
    assert refused(held).code == "held"
    bare = send(event_context=factory.event_context(3), purpose="return", note=" ", **ends)  # type: ignore[arg-type]
    assert refused(bare).code == "return_needs_a_reason"
    back = ok(send(event_context=factory.event_context(3), purpose="return", note="dim", **ends))  # type: ignore[arg-type]
    assert back.note == "dim"
    assert factory.balance(lot, bench, Condition.ON_THE_ROAD) == 100
    waiting = SendLine(lot.pk, 1, from_step=40, condition=Condition.IN_PROCESS)
    refusal = send(
        event_context=factory.event_context(4),
        origin_id=bench.pk,
        destination_id=supplier.pk,
        lines=[waiting],
        purpose="stock",
    )
    assert refused(refusal).code == "held"
    assert everything_agrees()


def test_each_print_of_a_note_has_its_own_number() -> None:
    globe = make_globe()
    globe.report(20, 100)
    globe.report(30, 100)
    consignment = ok(globe.send(60))
    assert [next_note_serial(consignment), next_note_serial(consignment)] == [1, 2]
