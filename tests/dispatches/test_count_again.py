"""Goods counted once more after both figures were shown: the newest count stands, both are kept."""

from __future__ import annotations

import pytest

from sites.models import Lane
from tests.globe import Globe, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.count_again import count_again
from traveller.batches.actions.send import send
from traveller.batches.actions.settle_difference import settle_difference
from traveller.batches.actions.take_back_dispatch import take_back_dispatch
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.dispatches.queries import counts_of, rests_by_place, unsettled
from traveller.ledger.models import Condition

pytestmark = [pytest.mark.django_db, pytest.mark.both]


def _on_the_road(sent: int = 78) -> tuple[Globe, Consignment]:
    globe = make_globe(start=200)
    globe.report(20, 200)
    globe.report(30, 200)
    return globe, ok(globe.send(sent))


def _again(globe: Globe, line: ConsignmentLine, quantity: int, **reported: object) -> object:
    context = reported.pop("event_context", None) or globe.event_context()
    return count_again(event_context=context, line_id=line.pk, quantity=quantity, **reported)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("first", "then", "difference", "here", "missing"),
    [(110, 78, 0, 78, 0), (70, 78, 0, 78, 0), (110, 76, 2, 76, 2), (70, 80, -2, 80, -2), (78, 70, 8, 70, 8)],
)
def test_the_newest_count_stands_and_the_difference_is_reckoned_from_it(
    first: int, then: int, difference: int, here: int, missing: int
) -> None:
    globe, consignment = _on_the_road()
    line = globe.receive(consignment, first).line
    line = ok(_again(globe, line, then)).line  # type: ignore[attr-defined]
    assert (line.received, line.difference) == (then, difference)
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == here
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 40) == missing
    assert globe.at(globe.moulder, Condition.ON_THE_ROAD, 40) == 0
    assert unsettled().exists() == (difference != 0)
    assert everything_agrees()


def test_both_counts_are_kept_with_how_each_was_made_and_that_the_second_saw_the_senders_figure() -> None:
    globe, consignment = _on_the_road()
    line = globe.receive(consignment, 110, method="weight", sample=10).line
    ok(_again(globe, line, 78, note="two totes weighed twice"))
    first, second = counts_of(consignment)[line.pk]
    assert (first.quantity, first.method, first.sample, first.seen, first.again) == (110, "weight", 10, False, False)
    assert (second.quantity, second.method, second.seen, second.again) == (78, "hand", True, True)
    assert second.event.corrects == first.event


def test_a_figure_that_was_more_than_sent_and_was_counted_again_before_it_was_recorded_is_kept_too() -> None:
    globe, consignment = _on_the_road()
    line = globe.receive(consignment, 78, seen=True, first=110).line
    first, second = counts_of(consignment)[line.pk]
    assert (first.quantity, first.recorded, second.quantity, second.seen) == (110, False, 78, True)
    assert everything_agrees()


def test_of_pieces_that_were_used_since_the_shortfall_stands_unexplained_where_they_were_used() -> None:
    globe, consignment = _on_the_road(12)
    line = globe.receive(consignment, 12).line
    globe.report(40, 12)
    again = ok(_again(globe, line, 10))
    assert again.event.data["used"] == 2  # type: ignore[attr-defined]
    assert globe.at(globe.bench, Condition.IN_PROCESS, 50) == 12, "what was made of them stands"
    assert globe.at(globe.bench, Condition.UNEXPLAINED, 40) == -2
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 40) == 2
    assert rests_by_place() == {(globe.lot().pk, globe.moulder.pk, 40): 2}
    assert everything_agrees()


def test_a_difference_that_such_counts_cannot_tell_settles_itself_and_opens_again_with_a_finer_count() -> None:
    globe, consignment = _on_the_road(200)
    line = globe.receive(consignment, 199, method="weight", sample=10).line
    assert line.settled_event is not None and line.received == 200
    line = ok(_again(globe, line, 199)).line  # type: ignore[attr-defined]
    assert (line.received, line.difference, line.settled_event) == (199, 1, None)
    line = ok(_again(globe, line, 199, method="weight", sample=10)).line  # type: ignore[attr-defined]
    assert (line.received, line.difference) == (200, 0) and line.settled_event is not None
    assert everything_agrees()


def test_counted_again_twice_by_one_form_is_one_event() -> None:
    globe, consignment = _on_the_road()
    line = globe.receive(consignment, 110).line
    context = globe.event_context()
    ok(_again(globe, line, 78, event_context=context))
    assert ok(_again(globe, line, 78, event_context=context)).repeated  # type: ignore[attr-defined]
    assert refused(_again(globe, line, 79, event_context=context)).code == "told_otherwise"
    assert len(counts_of(consignment)[line.pk]) == 2


def test_before_the_first_count_and_after_settling_there_is_nothing_to_count_again() -> None:
    globe, consignment = _on_the_road()
    line = consignment.lines.get()
    assert refused(_again(globe, line, 70)).code == "not_counted_yet"
    globe.receive(consignment, 70)
    assert refused(_again(globe, line, -1)).code == "not_a_quantity"
    ok(settle_difference(event_context=globe.event_context(), line_id=line.pk, finding="lost", reason="torn"))
    assert refused(_again(globe, line, 78)).code == "difference_was_settled"
    second = ok(globe.send(5))
    ok(take_back_dispatch(event_context=globe.event_context(), consignment_id=second.pk))
    assert refused(_again(globe, second.lines.get(), 5)).code == "dispatch_taken_back"


def test_more_than_the_tolerance_counted_again_is_set_apart_and_then_the_founders_to_decide() -> None:
    globe, consignment = _on_the_road(195)
    Lane.objects.create(origin=globe.moulder, destination=globe.bench, over_ppm=0)
    line = globe.receive(consignment, 195).line
    line = ok(_again(globe, line, 204)).line  # type: ignore[attr-defined]
    child = globe.children()[0]
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40, batch=child) == 4
    assert refused(_again(globe, line, 195)).code == "surplus_was_held"
    assert everything_agrees()


def test_a_count_that_knew_the_senders_figure_teaches_nothing_of_the_weight_of_a_piece() -> None:
    globe, consignment = _on_the_road()
    line = globe.receive(consignment, 110).line
    assert line.seen is False
    assert ok(_again(globe, line, 78)).line.seen is True  # type: ignore[attr-defined]
    blind = globe.receive(second := ok(globe.send(50)), 49).line
    assert ok(_again(globe, blind, 50, seen=False)).line.seen is False  # type: ignore[attr-defined]
    assert [count.seen for count in counts_of(second)[blind.pk]] == [False, False]


def test_a_difference_inside_of_what_such_counts_can_tell_is_nobodys_to_explain() -> None:
    globe = make_globe(start=200)
    globe.report(20, 200)
    globe.report(30, 200)
    weighed = SendLine(globe.lot().pk, 200, from_step=30, method="weight", sample=10)
    ends = {"origin_id": globe.moulder.pk, "destination_id": globe.bench.pk}
    consignment = ok(send(event_context=globe.event_context(), lines=[weighed], **ends))  # type: ignore[arg-type]
    line = globe.receive(consignment, 150).line
    assert line.settled_event is None
    line = ok(_again(globe, line, 199)).line  # type: ignore[attr-defined]
    assert (line.difference, line.settled_event.kind) == (1, "counted again")
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 40) == 1
    assert rests_by_place() == {(globe.lot().pk, globe.moulder.pk, 40): 1}
    assert not unsettled().exists() and everything_agrees()
