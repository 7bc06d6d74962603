"""Two counts of the same goods: what is booked, and what stays unexplained until it is settled."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests import factory
from tests.globe import Globe, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.receive import arrived_unannounced, receive
from traveller.batches.actions.send import send
from traveller.batches.actions.settle_difference import settle_difference
from traveller.dispatches.actions.dispatch import SendLine
from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.journal.models import Parked
from traveller.ledger.models import Condition

pytestmark = pytest.mark.django_db


def _on_the_road(quantity: int = 500, **line: object) -> tuple[Globe, Consignment]:
    globe = make_globe()
    globe.report(20, 500)
    globe.report(30, 500)
    reported = SendLine(globe.lot().pk, quantity, from_step=30, **line)  # type: ignore[arg-type]
    consignment = ok(
        send(
            event_context=globe.event_context(),
            origin_id=globe.moulder.pk,
            destination_id=globe.bench.pk,
            lines=[reported],
        )
    )
    return globe, consignment


def _settle(globe: Globe, line: ConsignmentLine, finding: str, reason: str = "asked them") -> object:
    return settle_difference(event_context=globe.event_context(), line_id=line.pk, finding=finding, reason=reason)  # type: ignore[arg-type]


def test_equal_counts_close_the_consignment() -> None:
    globe, consignment = _on_the_road()
    received = globe.receive(consignment, 500)
    assert (received.line.closed, received.line.difference) == (True, 0)
    consignment.refresh_from_db()
    assert consignment.received_at == received.event.happened_at
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 500
    assert everything_agrees()


def test_the_receivers_figure_is_booked_and_the_rest_stays_unexplained() -> None:
    globe, consignment = _on_the_road()
    line = globe.receive(consignment, 488).line
    assert line.difference == 12
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 488
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 40) == 12
    assert globe.at(globe.moulder, Condition.ON_THE_ROAD, 40) == 0
    assert everything_agrees()


@pytest.mark.parametrize(
    ("finding", "condition", "step"), [("lost", Condition.SCRAP, 40), ("at_sender", Condition.STOCK, 30)]
)
def test_missing_pieces_are_settled_as_lost_or_as_never_sent(finding: str, condition: str, step: int) -> None:
    globe, consignment = _on_the_road()
    line = globe.receive(consignment, 488).line
    settled = ok(_settle(globe, line, finding))
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 40) == 0
    assert globe.at(globe.moulder, condition, step) == 12
    line.refresh_from_db()
    assert (line.difference, line.settled_event) == (12, settled.event)  # type: ignore[attr-defined]
    assert everything_agrees()


@pytest.mark.parametrize(
    ("finding", "condition", "left"),
    [("at_sender", Condition.STOCK, 93), ("never_counted", Condition.MADE_FROM, -7)],
)
def test_surplus_pieces_are_settled_as_off_the_shelf_or_as_never_counted(
    finding: str, condition: str, left: int
) -> None:
    globe, consignment = _on_the_road(400)
    line = globe.receive(consignment, 407).line
    assert line.difference == -7
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 407
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 40) == -7
    ok(_settle(globe, line, finding))
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 40) == 0
    assert globe.at(globe.moulder, condition, 30) == left
    assert everything_agrees()


def test_a_finding_that_does_not_fit_is_refused() -> None:
    globe, consignment = _on_the_road(400)
    line = globe.receive(consignment, 407).line
    assert refused(_settle(globe, line, "lost")).code == "finding_does_not_fit"
    assert refused(_settle(globe, line, "at_sender", reason="")).code == "reason_needed"
    ok(_settle(globe, line, "never_counted"))
    assert refused(_settle(globe, line, "never_counted")).code == "nothing_to_settle"


def test_inside_what_the_scale_can_resolve_the_finer_count_is_booked() -> None:
    """400 weighed, piece weight set from 10, 1 % spread: sd = 400 x 0.01 x sqrt(1/10 + 1/400) = 1.28, so 2 is
    inside two of them and 3 is not."""
    globe, consignment = _on_the_road(400, method="weight", sample=10)
    line = globe.receive(consignment, 398).line
    assert (line.received, line.difference, line.settled_event_id is not None) == (398, 2, True)
    assert refused(_settle(globe, line, "lost")).code == "nothing_to_settle"
    assert everything_agrees()


def test_a_weighed_arrival_inside_the_resolution_books_the_hand_count_of_the_sender() -> None:
    globe, consignment = _on_the_road(400)
    line = globe.receive(consignment, 402, method="weight", sample=10).line
    assert (line.received, line.difference) == (400, 0)
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 400
    assert everything_agrees()


def test_a_weighed_arrival_outside_the_resolution_books_the_receivers_figure() -> None:
    globe, consignment = _on_the_road(400)
    line = globe.receive(consignment, 397, method="weight", sample=10).line
    assert (line.received, line.difference, line.settled_event_id) == (397, 3, None)
    assert everything_agrees()


def test_a_line_may_arrive_in_parts() -> None:
    globe, consignment = _on_the_road()
    globe.receive(consignment, 300, more_to_come=True)
    assert globe.at(globe.moulder, Condition.ON_THE_ROAD, 40) == 200
    consignment.refresh_from_db()
    assert consignment.received_at is None
    line = globe.receive(consignment, 190).line
    assert (line.received, line.difference) == (490, 10)
    assert everything_agrees()


def test_a_surplus_is_not_taken_from_another_consignment_on_the_road() -> None:
    globe, first = _on_the_road(300)
    second = ok(globe.send(200))
    line = globe.receive(first, 310).line
    assert globe.at(globe.moulder, Condition.ON_THE_ROAD, 40) == 200
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 40) == -10
    ok(_settle(globe, line, "never_counted"))
    globe.receive(second, 200)
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 510
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 40) == 0
    assert everything_agrees()


def test_a_line_received_twice_is_asked_about_and_the_same_telling_is_one() -> None:
    globe, consignment = _on_the_road()
    line, event_context = consignment.lines.get(), globe.event_context()
    for repeated in (False, True):
        assert ok(receive(event_context=event_context, line_id=line.pk, quantity=500)).repeated is repeated
    assert (
        refused(receive(event_context=globe.event_context(), line_id=line.pk, quantity=500)).code == "already_received"
    )
    assert refused(receive(event_context=globe.event_context(), line_id=line.pk, quantity=-1)).code == "not_a_quantity"
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 500


def test_work_told_before_the_arrival_owes_until_the_goods_are_counted() -> None:
    globe, consignment = _on_the_road(100)
    globe.report(40, 60)
    assert globe.at(globe.bench, Condition.UNREPORTED, 40) == -60
    globe.receive(consignment, 100)
    assert globe.at(globe.bench, Condition.UNREPORTED, 40) == 0
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 40
    assert everything_agrees()


def test_an_arrival_before_its_dispatch_is_parked_and_posts_itself() -> None:
    globe = make_globe()
    globe.report(20, 100)
    globe.report(30, 100)
    counted_at = factory.MONDAY + timedelta(hours=30)
    reported = {"site_id": globe.bench.pk, "lot_id": globe.lot().pk, "quantity": 97}
    parked = ok(arrived_unannounced(event_context=globe.event_context(counted_at), **reported))  # type: ignore[arg-type]
    assert (parked.reason, parked.settled_by) == ("dispatch_unknown", None)
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 0
    consignment = ok(globe.send(100))
    line = consignment.lines.get()
    # Nobody has said that this was all: the rest is on the road until somebody does.
    assert (line.received, line.remaining, line.closed) == (97, 3, False)
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 97
    parked.refresh_from_db()
    assert parked.settled_by is not None
    assert parked.settled_by.happened_at == counted_at
    closing = globe.receive(consignment, 0)
    assert (closing.line.received, closing.line.difference, closing.line.closed) == (97, 3, True)
    assert globe.at(globe.moulder, Condition.ON_THE_ROAD, 40) == 0
    assert everything_agrees()


def test_an_arrival_told_as_unannounced_after_the_dispatch_was_told_meets_it_at_once() -> None:
    globe, _ = _on_the_road(100)
    event_context = globe.event_context()
    reported = {"site_id": globe.bench.pk, "lot_id": globe.lot().pk, "quantity": 97}
    for _ in range(2):
        parked = ok(arrived_unannounced(event_context=event_context, **reported))  # type: ignore[arg-type]
        assert parked.settled_by is not None
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 97
    assert Parked.objects.count() == 1
    assert everything_agrees()


def test_an_arrival_of_another_lot_waits_for_its_own_dispatch() -> None:
    globe, _ = _on_the_road(100)
    other = factory.make_stock(globe.part, globe.moulder, 10)
    parked = ok(
        arrived_unannounced(event_context=globe.event_context(), site_id=globe.bench.pk, lot_id=other.pk, quantity=10)
    )
    assert parked.settled_by is None
    assert globe.at(globe.moulder, Condition.ON_THE_ROAD, 40) == 100
    nothing = arrived_unannounced(
        event_context=globe.event_context(), site_id=globe.bench.pk, lot_id=other.pk, quantity=0
    )
    assert refused(nothing).code == "not_a_quantity"
