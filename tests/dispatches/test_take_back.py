"""Goods that were said to have left are here after all: taken back while nobody has counted them where they went."""

from __future__ import annotations

import pytest

from tests import factory
from tests.globe import Globe, everything_agrees, make_globe, ok, refused
from tests.paper.reading import texts
from traveller.batches.actions.receive import arrived_unannounced, receive
from traveller.batches.actions.send import send
from traveller.batches.actions.take_back_dispatch import take_back_dispatch
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import Consignment
from traveller.dispatches.papers import print_note
from traveller.journal.models import Event, Parked
from traveller.ledger.models import Condition

pytestmark = [pytest.mark.django_db, pytest.mark.both]


def _cooled(pieces: int = 100) -> Globe:
    globe = make_globe(start=pieces)
    globe.report(20, pieces)
    globe.report(30, pieces)
    return globe


def _take_back(globe: Globe, consignment: Consignment, **reported: object) -> object:
    context = reported.pop("event_context", None) or globe.event_context()
    return take_back_dispatch(event_context=context, consignment_id=consignment.pk, **reported)  # type: ignore[arg-type]


def test_pieces_go_back_to_the_shelf_that_they_were_taken_from() -> None:
    globe = _cooled()
    before = globe.lies()
    consignment = ok(globe.send(60))
    event = ok(_take_back(globe, consignment))
    assert globe.lies() == before
    assert (event.kind, event.corrects, event.site) == (  # type: ignore[attr-defined]
        "dispatch taken back",
        consignment.sent_event,
        globe.moulder,
    )
    line = consignment.lines.get()
    assert (line.closed, line.received, line.difference, line.taken_back_event) == (True, 0, 0, event)
    consignment.refresh_from_db()
    assert consignment.received_at is not None, "nothing of it is on the road"
    assert everything_agrees()


def test_what_was_returned_waits_for_its_step_again() -> None:
    globe = _cooled()
    globe.moved(100)
    before = globe.lies()
    back = SendLine(globe.lot().pk, 30, from_step=40, to_step=30, condition=Condition.IN_PROCESS)
    ends = {"origin_id": globe.bench.pk, "destination_id": globe.moulder.pk}
    consignment = ok(
        send(event_context=globe.event_context(), lines=[back], purpose="return", note="oval", **ends)  # type: ignore[arg-type]
    )
    ok(_take_back(globe, consignment))
    assert globe.lies() == before and globe.at(globe.bench, Condition.IN_PROCESS, 40) == 100
    assert everything_agrees()


def test_one_line_is_taken_back_and_the_other_arrives() -> None:
    globe = _cooled()
    other = factory.make_batch(globe.part, wanted=100, start=100, name="other")
    globe.report(20, 50, batch=other)
    globe.report(30, 50, batch=other)
    lines = [SendLine(globe.lot().pk, 60, from_step=30), SendLine(globe.lot(other).pk, 50, from_step=30)]
    ends = {"origin_id": globe.moulder.pk, "destination_id": globe.bench.pk}
    consignment = ok(send(event_context=globe.event_context(), lines=lines, **ends))  # type: ignore[arg-type]
    mine, theirs = consignment.lines.order_by("id")
    ok(_take_back(globe, consignment, line_id=mine.pk))
    consignment.refresh_from_db()
    assert consignment.received_at is None, "the other line is on the road"
    assert globe.at(globe.moulder, Condition.STOCK, 30) == 100
    ok(receive(event_context=globe.event_context(), line_id=theirs.pk, quantity=50))
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40, batch=other) == 50
    assert Consignment.objects.get().received_at is not None
    assert everything_agrees()


def test_what_was_counted_there_is_not_taken_back() -> None:
    globe = _cooled()
    consignment = ok(globe.send(60))
    globe.receive(consignment, 10, more_to_come=True)
    before = globe.lies()
    refusal = refused(_take_back(globe, consignment))
    assert (refusal.code, refusal.figures["counted"]) == ("counted_there", 10)
    assert globe.lies() == before and not Event.objects.filter(kind="dispatch taken back").exists()


def test_work_reported_there_before_the_count_says_that_the_goods_did_come() -> None:
    globe = _cooled()
    consignment = ok(globe.send(60))
    globe.report(40, 25)
    refusal = refused(_take_back(globe, consignment))
    assert (refusal.code, refusal.figures["used"]) == ("used_there", 25)


def test_taken_back_twice_is_one_event_whoever_tells_it() -> None:
    globe = _cooled()
    consignment = ok(globe.send(60))
    context = globe.event_context()
    first = ok(_take_back(globe, consignment, event_context=context))
    assert ok(_take_back(globe, consignment, event_context=context)) == first
    assert ok(_take_back(globe, consignment)) == first
    assert globe.at(globe.moulder, Condition.STOCK, 30) == 100


def test_a_count_that_comes_too_late_is_refused_by_the_line_and_taken_as_goods_that_came_all_the_same() -> None:
    globe = _cooled()
    consignment = ok(globe.send(60))
    ok(_take_back(globe, consignment))
    late = {"event_context": globe.event_context(), "quantity": 58}
    assert refused(receive(line_id=consignment.lines.get().pk, **late)).code == "dispatch_taken_back"  # type: ignore[arg-type]
    came = {"site_id": globe.bench.pk, "lot_id": globe.lot().pk, "dispatch": consignment.code}
    parked = ok(arrived_unannounced(**late, **came))  # type: ignore[arg-type]
    assert parked.reason == "came_all_the_same" and parked.figures["consignment"] == consignment.code
    again = ok(globe.send(58))
    parked.refresh_from_db()
    assert parked.settled_by is not None, "told anew, the dispatch meets its count"
    assert again.lines.get().received == 58
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 58
    assert everything_agrees()


def test_what_had_come_astray_is_a_matter_again_when_its_sending_on_is_taken_back() -> None:
    globe = _cooled()
    printer = factory.make_site("printer")
    ok(globe.send(60))
    count = {"site_id": printer.pk, "lot_id": globe.lot().pk, "quantity": 60}
    parked = ok(arrived_unannounced(event_context=globe.event_context(), **count))  # type: ignore[arg-type]
    line = SendLine(globe.lot().pk, 60, from_step=30)
    ends = {"origin_id": printer.pk, "destination_id": globe.bench.pk}
    on = ok(send(event_context=globe.event_context(), lines=[line], **ends))  # type: ignore[arg-type]
    assert Parked.objects.get(pk=parked.pk).settled_by is not None
    ok(_take_back(globe, on))
    assert Parked.objects.get(pk=parked.pk).settled_by is None
    assert globe.at(printer, Condition.STOCK, 30) == 60
    assert everything_agrees()


def test_a_batch_whose_last_pieces_are_taken_back_is_open() -> None:
    globe = _cooled(40)
    consignment = ok(globe.send(40))
    ok(_take_back(globe, consignment))
    globe.batch.refresh_from_db()
    assert globe.batch.closed_at is None
    assert ok(globe.send(40)).lines.get().sent == 40, "and they can be sent anew"


def test_printed_again_the_note_says_that_it_does_not_count() -> None:
    globe = _cooled()
    consignment = ok(globe.send(60))
    assert "TAKEN BACK" not in _note(globe, consignment)
    ok(_take_back(globe, consignment))
    assert _note(globe, consignment).count("This note does not count.") == 2


def test_of_a_dispatch_taken_back_in_part_the_note_names_what_has_left() -> None:
    globe = _cooled()
    other = factory.make_batch(globe.part, wanted=100, start=100, name="other")
    globe.report(20, 50, batch=other)
    globe.report(30, 50, batch=other)
    lines = [SendLine(globe.lot().pk, 60, from_step=30), SendLine(globe.lot(other).pk, 50, from_step=30)]
    ends = {"origin_id": globe.moulder.pk, "destination_id": globe.bench.pk}
    consignment = ok(send(event_context=globe.event_context(), lines=lines, **ends))  # type: ignore[arg-type]
    ok(_take_back(globe, consignment, line_id=consignment.lines.order_by("id")[0].pk))
    note = _note(globe, consignment)
    assert "1 of 2 lines taken back" in note and "50 pieces" in note and "60 pieces" not in note


def _note(globe: Globe, consignment: Consignment) -> str:
    printed = print_note(
        event_context=globe.event_context(), consignment_id=consignment.pk, public_address="https://lanterns.example"
    )
    return " ".join(texts(ok(printed)))
