"""Goods that nobody told of, in parts, too early, at the wrong site, or with a label that nobody can read."""

from __future__ import annotations

import pytest

from tests import factory
from tests.globe import Globe, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.receive import arrived_unannounced, receive
from traveller.batches.actions.send import send
from traveller.batches.actions.unknown import arrived_unknown, match_unknown
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import ConsignmentLine
from traveller.journal.models import Event, Parked
from traveller.ledger.models import Condition, Hold, Lot

pytestmark = pytest.mark.django_db


def _cooled(quantity: int = 500) -> Globe:
    globe = make_globe()
    globe.report(20, quantity)
    globe.report(30, quantity)
    return globe


def _arrive(globe: Globe, quantity: int, site: object = None, **reported: object) -> Parked:
    where = site or globe.bench
    return ok(
        arrived_unannounced(
            event_context=globe.event_context(),
            site_id=where.pk,  # type: ignore[attr-defined]
            lot_id=globe.lot().pk,
            quantity=quantity,
            **reported,  # type: ignore[arg-type]
        )
    )


def test_what_came_is_booked_and_the_rest_stays_on_the_road() -> None:
    globe = _cooled()
    ok(globe.send(100))
    parked = _arrive(globe, 60)
    line = ConsignmentLine.objects.get()
    assert (line.closed, line.received, line.remaining) == (False, 60, 40)
    assert parked.settled_by is not None
    assert globe.at(globe.moulder, Condition.ON_THE_ROAD, 40) == 40
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 60
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 40) == 0
    _arrive(globe, 40)
    line.refresh_from_db()
    assert (line.closed, line.received, line.difference) == (True, 100, 0)
    assert everything_agrees()


def test_totes_counted_before_their_dispatch_fill_its_lines_in_order() -> None:
    globe = _cooled()
    for quantity in (20, 20, 23):
        _arrive(globe, quantity)
    lines = [SendLine(globe.lot().pk, 20, from_step=30) for _ in range(3)]
    ok(
        send(
            event_context=globe.event_context(), origin_id=globe.moulder.pk, destination_id=globe.bench.pk, lines=lines
        )
    )
    reported = [(line.received, line.closed, line.difference) for line in ConsignmentLine.objects.order_by("id")]
    assert reported == [(20, True, 0), (20, True, 0), (23, True, -3)]
    assert not Parked.objects.filter(settled_by=None).exists()
    assert everything_agrees()


def test_one_count_of_several_totes_is_shared_out_among_their_lines() -> None:
    globe = _cooled()
    lines = [SendLine(globe.lot().pk, 30, from_step=30) for _ in range(3)]
    ok(
        send(
            event_context=globe.event_context(), origin_id=globe.moulder.pk, destination_id=globe.bench.pk, lines=lines
        )
    )
    _arrive(globe, 70)
    reported = [(line.received, line.closed) for line in ConsignmentLine.objects.order_by("id")]
    assert reported == [(30, True), (30, True), (10, False)]
    assert everything_agrees()


def test_a_scale_that_cannot_tell_the_difference_closes_the_line() -> None:
    """400 weighed with a piece weight set from 10: two of them are 2.56 pieces, so 398 is all and 396 is not."""
    globe = _cooled()
    ok(globe.send(400))
    _arrive(globe, 398, method="weight", sample=10)
    line = ConsignmentLine.objects.get()
    assert (line.closed, line.received, line.difference) == (True, 400, 0)
    ok(globe.send(100))
    _arrive(globe, 90, method="weight", sample=10)
    assert ConsignmentLine.objects.latest("id").closed is False
    assert everything_agrees()


def test_the_rest_has_a_day_of_its_own_until_it_comes() -> None:
    globe = _cooled()
    consignment = ok(globe.send(500))
    due = factory.MONDAY.date()
    line = globe.receive(consignment, 300, more_to_come=True, rest_due=due).line
    assert (line.rest_due, line.remaining, line.closed) == (due, 200, False)
    assert globe.at(globe.moulder, Condition.ON_THE_ROAD, 40) == 200
    line = globe.receive(consignment, 200).line
    assert (line.rest_due, line.closed) == (None, True)
    assert everything_agrees()


def test_goods_at_the_wrong_site_are_taken_told_and_sent_on() -> None:
    globe = _cooled()
    printer = factory.make_site("printer")
    ok(globe.send(100))
    parked = _arrive(globe, 100, printer)
    assert (parked.reason, parked.settled_by) == ("arrived_astray", None)
    line = ConsignmentLine.objects.get()
    assert (line.misdirected, line.received, line.closed, line.difference) == (100, 0, True, 0)
    assert globe.lies() == {
        ("moulder", "made_from", 20): -500,
        ("moulder", "stock", 30): 400,
        ("printer", "stock", 30): 100,
    }
    on = SendLine(globe.lot().pk, 100, from_step=30)
    again = ok(
        send(event_context=globe.event_context(), origin_id=printer.pk, destination_id=globe.bench.pk, lines=[on])
    )
    parked.refresh_from_db()
    assert parked.settled_by is not None and parked.settled_by.kind == "sent"
    globe.receive(again, 100)
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 100
    assert everything_agrees()


def test_goods_astray_are_counted_before_their_dispatch_is_told_and_a_surplus_stands() -> None:
    globe = _cooled()
    printer = factory.make_site("printer")
    parked = _arrive(globe, 103, printer)
    assert globe.at(printer, Condition.STOCK, 30) == 0
    ok(globe.send(100))
    line = ConsignmentLine.objects.get()
    assert (line.misdirected, line.closed, line.difference) == (103, True, -3)
    assert globe.at(printer, Condition.STOCK, 30) == 103
    parked.refresh_from_db()
    assert parked.settled_by is None and parked.figures["booked"] is True
    assert everything_agrees()


def test_part_of_a_consignment_astray_leaves_the_other_part_to_its_receiver() -> None:
    globe = _cooled()
    printer = factory.make_site("printer")
    consignment = ok(globe.send(100))
    _arrive(globe, 30, printer)
    line = globe.receive(consignment, 70).line
    assert (line.received, line.misdirected, line.difference, line.closed) == (70, 30, 0, True)
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 70
    assert everything_agrees()


def test_material_on_the_road_to_another_site_is_astray_and_other_material_is_not() -> None:
    globe = make_globe()
    printer = factory.make_site("printer")
    resin = factory.make_stock(factory.make_part("RESIN", "material", unit="GRM"), globe.bench, 9_000)

    def arrived(quantity: int) -> Parked:
        at = printer.pk
        return ok(
            arrived_unannounced(event_context=globe.event_context(), lot_id=resin.pk, quantity=quantity, site_id=at)
        )

    early = arrived(5_000)
    assert early.reason == "dispatch_unknown"
    line = SendLine(resin.pk, 4_000)
    ends = (globe.bench.pk, globe.moulder.pk)
    ok(
        send(
            event_context=globe.event_context(),
            lines=[line],
            purpose="free issue",
            origin_id=ends[0],
            destination_id=ends[1],
        )
    )
    late = arrived(4_000)
    assert late.reason == "arrived_astray"
    assert factory.balance(resin, printer) == 4_000
    assert everything_agrees()


def test_a_return_comes_back_to_a_named_step_with_its_reason() -> None:
    globe = _cooled()
    globe.moved(100)
    back = SendLine(globe.lot().pk, 12, from_step=40, to_step=30, condition=Condition.IN_PROCESS)
    ends = {"origin_id": globe.bench.pk, "destination_id": globe.moulder.pk, "lines": [back]}
    assert refused(send(event_context=globe.event_context(), purpose="return", **ends)).code == "return_needs_a_reason"  # type: ignore[arg-type]
    consignment = ok(send(event_context=globe.event_context(), purpose="return", note="oval", **ends))  # type: ignore[arg-type]
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 88
    globe.receive(consignment, 12)
    assert globe.at(globe.moulder, Condition.REWORK, 30) == 12
    globe.report(30, 12, again=True)
    assert globe.at(globe.moulder, Condition.STOCK, 30) == 412
    globe.moved(12)
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 100
    assert everything_agrees()


def test_a_return_gone_astray_lies_before_the_step_that_it_waited_for() -> None:
    globe = _cooled()
    globe.moved(100)
    printer = factory.make_site("printer")
    back = SendLine(globe.lot().pk, 12, from_step=40, to_step=30, condition=Condition.IN_PROCESS)
    ends = {"origin_id": globe.bench.pk, "destination_id": globe.moulder.pk, "lines": [back]}
    ok(send(event_context=globe.event_context(), purpose="return", note="oval", **ends))  # type: ignore[arg-type]
    _arrive(globe, 12, printer)
    assert globe.at(printer, Condition.STOCK, 39) == 12
    on = SendLine(globe.lot().pk, 12, from_step=39)
    ok(send(event_context=globe.event_context(), origin_id=printer.pk, destination_id=globe.bench.pk, lines=[on]))
    assert globe.at(printer, Condition.ON_THE_ROAD, 40) == 12
    assert everything_agrees()


def test_a_remark_and_a_late_reason_stay_in_the_record_of_sending_and_receiving() -> None:
    globe = _cooled()
    event_context = globe.event_context()
    consignment = ok(
        globe.send(100, event_context=event_context, note="two totes wet", returnables="4 grey totes", shown=True)
    )
    assert (consignment.note, consignment.returnables, consignment.shown) == ("two totes wet", "4 grey totes", True)
    assert consignment.sent_event.data["told"]["note"] == "two totes wet"
    assert refused(globe.send(100, event_context=event_context, note="dry")).code == "told_otherwise"
    received = globe.receive(consignment, 100, note="van was late", how={"gross": "12.4 kg"})
    assert received.event.data["told"]["note"] == "van was late"
    assert received.event.data["told"]["how"] == {"gross": "12.4 kg"}
    # The totes carried their quantity.
    assert received.line.seen is True
    assert everything_agrees()


def _unknown(globe: Globe, quantity: int = 40, part: object = "its own", **reported: object) -> Parked:
    part_id = globe.part.pk if part == "its own" else None
    return ok(
        arrived_unknown(
            event_context=globe.event_context(),
            site_id=globe.bench.pk,
            words="no label",
            quantity=quantity,
            part_id=part_id,
            **reported,  # type: ignore[arg-type]
        )
    )


def test_an_unknown_lot_is_taken_in_held_and_takes_its_place_on_the_road_once_matched() -> None:
    globe = _cooled()
    ok(globe.send(40))
    parked = _unknown(globe)
    lot = Lot.objects.get(origin="provisional")
    assert factory.balance(lot, globe.bench) == 40
    assert Hold.objects.get(lot=lot).code == "lot_unknown"
    assert everything_agrees()
    event_context = globe.event_context()
    reported = {"parked_id": parked.pk, "lot_id": globe.lot().pk, "reason": "seen on a photo"}
    for _ in range(2):
        ok(match_unknown(event_context=event_context, **reported))  # type: ignore[arg-type]
    assert factory.balance(lot, globe.bench) == 0
    assert factory.balance(lot, globe.bench, Condition.UNEXPLAINED) == 0
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 40
    hold = Hold.objects.get(lot=lot)
    assert (hold.closed_at is not None, hold.disposition) == (True, "matched")
    # As of when the tote was counted.
    assert Event.objects.get(kind="received").happened_at == parked.event.happened_at
    assert refused(match_unknown(event_context=globe.event_context(), **reported)).code == "matched_before"  # type: ignore[arg-type]
    assert everything_agrees()


def test_an_unknown_tote_matched_before_its_dispatch_waits_for_it() -> None:
    globe = _cooled()
    parked = _unknown(globe, part="none")
    assert not Lot.objects.filter(origin="provisional").exists()
    bare = match_unknown(event_context=globe.event_context(), parked_id=parked.pk, lot_id=globe.lot().pk, reason=" ")
    assert refused(bare).code == "reason_needed"
    ok(match_unknown(event_context=globe.event_context(), parked_id=parked.pk, lot_id=globe.lot().pk, reason="asked"))
    waits = Parked.objects.get(settled_by=None)
    assert waits.reason == "dispatch_unknown"
    ok(globe.send(40))
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 40
    assert everything_agrees()


def test_an_unknown_tote_may_be_a_lot_of_its_own() -> None:
    globe = _cooled()
    first, second = _unknown(globe), _unknown(globe, part="none")
    ok(match_unknown(event_context=globe.event_context(), parked_id=first.pk, reason="from before this record"))
    lot = Lot.objects.get(origin="provisional")
    assert factory.balance(lot, globe.bench) == 40 and not Hold.objects.filter(lot=lot, closed_at=None).exists()
    assert factory.balance(lot, globe.bench, Condition.UNEXPLAINED) == 0
    assert (
        refused(match_unknown(event_context=globe.event_context(), parked_id=second.pk, reason="odd")).code
        == "part_needed"
    )
    ok(
        match_unknown(
            event_context=globe.event_context(), parked_id=second.pk, part_id=globe.insert.pk, reason="inserts"
        )
    )
    found = Lot.objects.get(origin="found")
    assert (found.part, factory.balance(found, globe.bench)) == (globe.insert, 40)
    assert everything_agrees()


def test_a_provisional_lot_of_the_wrong_part_becomes_one_of_the_right_part() -> None:
    globe = _cooled()
    parked = _unknown(globe)
    ok(
        match_unknown(
            event_context=globe.event_context(), parked_id=parked.pk, part_id=globe.insert.pk, reason="inserts"
        )
    )
    assert factory.balance(Lot.objects.get(origin="provisional"), globe.bench) == 0
    assert factory.balance(Lot.objects.get(origin="found"), globe.bench) == 40
    assert everything_agrees()


def test_an_unknown_tote_without_a_word_or_a_piece_is_no_news() -> None:
    globe = _cooled()
    reported = {"site_id": globe.bench.pk, "words": " ", "quantity": 4}
    assert refused(arrived_unknown(event_context=globe.event_context(), **reported)).code == "say_what_it_is"  # type: ignore[arg-type]
    none = arrived_unknown(event_context=globe.event_context(), site_id=globe.bench.pk, words="blue", quantity=0)
    assert refused(none).code == "not_a_quantity"
    assert not Parked.objects.exists()


def test_a_provisional_lot_that_was_used_stays_a_lot_of_its_own() -> None:
    globe = _cooled()
    parked = _unknown(globe)
    lot = Lot.objects.get(origin="provisional")
    elsewhere = SendLine(lot.pk, 10)
    ok(
        send(
            event_context=globe.event_context(), origin_id=globe.bench.pk, destination_id=globe.moulder.pk,
            lines=[elsewhere],
            purpose="return", note="not ours",
        )
    )  # fmt: skip
    used = match_unknown(
        event_context=globe.event_context(), parked_id=parked.pk, lot_id=globe.lot().pk, reason="it is"
    )
    assert refused(used).code == "used_meanwhile"
    ok(match_unknown(event_context=globe.event_context(), parked_id=parked.pk, reason="its own"))
    assert everything_agrees()


def test_a_count_of_a_line_that_came_whole_is_told_once() -> None:
    globe = _cooled()
    consignment = ok(globe.send(40))
    line = consignment.lines.get()
    _arrive(globe, 40)
    again = receive(event_context=globe.event_context(), line_id=line.pk, quantity=40)
    assert refused(again).code == "already_received"
