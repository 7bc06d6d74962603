"""Stopping a batch, or a part of it."""

from __future__ import annotations

import pytest

from tests import factory
from tests.globe import COOLING, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.hold import hold_lot, hold_part, report_problem
from traveller.batches.proof import gates
from traveller.ledger import holds
from traveller.ledger.models import Condition
from traveller.ledger.post import Place

pytestmark = pytest.mark.django_db


def test_a_held_part_becomes_a_batch_of_its_own_and_the_rest_stays_free() -> None:
    globe = make_globe()
    globe.report(20, 500)
    globe.report(30, 500)
    place = Place(globe.lot().pk, globe.moulder.pk, Condition.STOCK, 30)
    ok(
        hold_part(
            event_context=globe.event_context(),
            batch_id=globe.batch.pk,
            place=place,
            quantity=40,
            reason="one tote wet",
        )
    )
    (child,) = globe.children()
    assert globe.at(globe.moulder, Condition.STOCK, 30) == 460
    assert globe.lies(child) == {("moulder", "made_from", 30): -40, ("moulder", "stock", 30): 40}
    assert globe.open_holds() == []
    assert [hold.figures["reason"] for hold in globe.open_holds(child)] == ["one tote wet"]
    assert [step.number for step in child.steps.order_by("number")] == [40, 50]
    ok(globe.send(460))
    assert refused(globe.send(40, batch=child)).code == "held"
    assert everything_agrees()


def test_a_part_set_apart_before_a_step_does_that_step_itself() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 48)
    globe.cooled((24, 15))
    place = Place(globe.lot().pk, globe.moulder.pk, Condition.IN_PROCESS, 30)
    globe.report(20, 6)
    ok(
        hold_part(
            event_context=globe.event_context(), batch_id=globe.batch.pk, place=place, quantity=10, reason="dropped"
        )
    )
    (child,) = globe.children()
    assert [step.number for step in child.steps.order_by("number")] == [30, 40, 50]
    assert globe.step(30, child).state == "running"
    assert [block.code for block in gates.closed(child, "send")] == ["nothing_recorded"]
    assert everything_agrees()


def test_a_finished_part_that_is_held_has_no_steps_left_and_its_parents_proof() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 24)
    globe.cooled((24, 15))
    globe.moved(24)
    globe.report(40, 24)
    globe.report(50, 24)
    place = Place(globe.lot().pk, globe.bench.pk, Condition.STOCK, 0)
    ok(
        hold_part(
            event_context=globe.event_context(), batch_id=globe.batch.pk, place=place, quantity=4, reason="scratched"
        )
    )
    (child,) = globe.children()
    assert not child.steps.exists()
    assert gates.closed(child, "pack") == []
    assert everything_agrees()


def test_the_child_of_a_held_lot_is_born_held() -> None:
    globe = make_globe()
    globe.report(20, 50)
    ok(hold_lot(event_context=globe.event_context(), lot_id=globe.lot().pk, reason="smells"))
    place = Place(globe.lot().pk, globe.moulder.pk, Condition.IN_PROCESS, 30)
    ok(
        hold_part(
            event_context=globe.event_context(), batch_id=globe.batch.pk, place=place, quantity=10, reason="darker"
        )
    )
    (child,) = globe.children()
    assert sorted(hold.root_id is None for hold in globe.open_holds(child)) == [False, True]
    assert everything_agrees()


def test_a_part_is_less_than_all_and_lies_on_a_shelf() -> None:
    globe = make_globe()
    globe.report(20, 50)
    globe.report(30, 50)
    ok(globe.send(20))
    lot = globe.lot().pk
    cases = (
        (Place(lot, globe.moulder.pk, Condition.STOCK, 30), 30, "x", "not_a_part"),
        (Place(lot, globe.moulder.pk, Condition.STOCK, 30), 0, "x", "not_a_part"),
        (Place(lot, globe.moulder.pk, Condition.ON_THE_ROAD, 40), 5, "x", "not_on_a_shelf"),
        (Place(lot + 1, globe.moulder.pk, Condition.STOCK, 30), 5, "x", "nothing_there"),
        (Place(lot, globe.moulder.pk, Condition.STOCK, 30), 5, "", "reason_needed"),
    )
    for place, quantity, reason, code in cases:
        answer = hold_part(
            event_context=globe.event_context(), batch_id=globe.batch.pk, place=place, quantity=quantity, reason=reason
        )
        assert refused(answer).code == code


def test_a_problem_holds_a_batch_that_has_no_lot_yet() -> None:
    globe = make_globe()
    event_context = globe.event_context()
    for repeated in (False, True):
        answer = ok(
            report_problem(
                event_context=event_context, batch_id=globe.batch.pk, site_id=globe.moulder.pk, reason="mould leaks"
            )
        )
        assert answer.repeated is repeated
    (hold,) = globe.open_holds()
    assert (hold.code, hold.figures) == ("problem_reported", {"reason": "mould leaks"})
    globe.report(20, 10)
    assert refused(globe.send(10)).code == "held"
    assert everything_agrees()


def test_a_shops_problem_with_a_lot_holds_it_at_once() -> None:
    globe = make_globe(insert=True)
    inserts = factory.make_stock(globe.insert, globe.bench, 10)
    answer = ok(hold_lot(event_context=globe.event_context(), lot_id=inserts.pk, reason="cracked", problem=True))
    assert (answer.event.kind, len(answer.holds)) == ("problem reported", 1)
    assert len(holds.open_on([inserts.pk])) == 1
    assert refused(hold_lot(event_context=globe.event_context(), lot_id=inserts.pk, reason="")).code == "reason_needed"
    assert everything_agrees()


def test_news_is_taken_while_a_lot_is_held_and_requests_are_not() -> None:
    globe = make_globe()
    globe.report(20, 50)
    ok(hold_lot(event_context=globe.event_context(), lot_id=globe.lot().pk, reason="wait"))
    globe.report(30, 50)
    assert globe.at(globe.moulder, Condition.STOCK, 30) == 50
    assert refused(globe.send(50)).code == "held"
    assert everything_agrees()
