"""Some pieces treated differently: a batch of their own. A part sent ahead is no split."""

from __future__ import annotations

import pytest

from tests import factory
from tests.globe import COOLING, ROUTE, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.split import split
from traveller.batches.proof import gates
from traveller.batches.steps.answer import Answer
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Condition
from traveller.ledger.post import Place

pytestmark = pytest.mark.django_db


def test_pieces_split_off_have_a_code_of_their_own_and_go_on_from_where_they_lay() -> None:
    globe = make_globe()
    globe.report(20, 60)
    place = Place(globe.lot().pk, globe.moulder.pk, Condition.IN_PROCESS, 30)
    reported = {"batch_id": globe.batch.pk, "place": place, "quantity": 20, "reason": "to be polished"}
    answer = ok(split(event_context=factory.event_context("split"), **reported))  # type: ignore[arg-type]
    again = ok(split(event_context=factory.event_context("split"), **reported))  # type: ignore[arg-type]
    assert again.event == answer.event
    (child,) = globe.children()
    assert child.code != globe.batch.code
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30) == 40
    globe.report(30, 20, batch=child)
    assert globe.lies(child)["moulder", "stock", 30] == 20
    assert globe.open_holds(child) == []
    assert everything_agrees()


def test_what_the_parent_has_not_proved_its_child_has_not_proved() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 60)
    globe.report(30, 60)
    place = Place(globe.lot().pk, globe.moulder.pk, Condition.STOCK, 30)
    ok(
        split(
            event_context=globe.event_context(), batch_id=globe.batch.pk, place=place, quantity=20, reason="amber print"
        )
    )
    (child,) = globe.children()
    assert [block.step for block in gates.closed(child, "send")] == [30]


def test_a_held_batch_is_split_into_two_held_ones() -> None:
    globe = make_globe()
    globe.report(20, 60)
    ok(hold_lot(event_context=globe.event_context(), lot_id=globe.lot().pk, reason="odd"))
    place = Place(globe.lot().pk, globe.moulder.pk, Condition.IN_PROCESS, 30)
    ok(split(event_context=globe.event_context(), batch_id=globe.batch.pk, place=place, quantity=20, reason="sorted"))
    assert len(globe.open_holds(globe.children()[0])) == 1


def test_a_split_needs_a_part_and_a_reason_and_no_load_around_it() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 60)
    globe.put_in(24)
    place = Place(globe.lot().pk, globe.moulder.pk, Condition.IN_PROCESS, 30)

    def parted(quantity: int, reason: str = "x") -> Answer | Refusal:
        given = {"event_context": globe.event_context(), "batch_id": globe.batch.pk, "place": place}
        return split(**given, quantity=quantity, reason=reason)  # type: ignore[arg-type]

    assert refused(parted(60)).code == "not_a_part"
    assert refused(parted(5, " ")).code == "reason_needed"
    assert refused(parted(40)).code == "load_is_in"
    ok(parted(36))
    assert everything_agrees()


def test_a_part_sent_ahead_is_the_same_lot_in_two_places() -> None:
    globe = make_globe(checks=ROUTE)
    load = globe.put_in(0, step=10)
    from datetime import timedelta

    globe.take_out(load, load.started_at + timedelta(hours=4))
    globe.report(20, 48)
    globe.cooled((24, 15))
    globe.moved(24)
    globe.cooled((24, 15))
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 24
    assert globe.at(globe.moulder, Condition.STOCK, 30) == 24
    assert globe.children() == []
    assert everything_agrees()
