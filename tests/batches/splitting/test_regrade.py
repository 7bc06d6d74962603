"""Regrade: a held lot becomes a lot of another part. Return: a bought lot stays held until it has gone back."""

from __future__ import annotations

import pytest

from tests import factory
from tests.globe import COOLING, Globe, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.decide import decide
from traveller.batches.actions.send import send
from traveller.batches.proof.components import unproved_inside
from traveller.dispatches.actions.dispatch import SendLine
from traveller.ledger import genealogy, holds
from traveller.ledger.models import Condition, Hold, Lot
from traveller.products.models import Part

pytestmark = pytest.mark.django_db


def _failed() -> tuple[Globe, Hold, Part]:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 24)
    globe.cooled((24, 9))
    (hold,) = globe.open_holds()
    return globe, hold, factory.make_part("GLOBE-SECOND")


def test_its_pieces_become_a_lot_of_the_other_part_that_knows_where_it_came_from() -> None:
    globe, hold, second = _failed()
    reported = {
        "event_context": globe.event_context(),
        "hold_id": hold.pk,
        "disposition": "regrade",
        "reason": "as seconds",
    }
    for repeated in (False, True):
        answer = ok(decide(**reported, to_part=second.pk))  # type: ignore[arg-type]
        assert answer.repeated is repeated
    lot = Lot.objects.get(part=second)
    assert lot.origin == "regrade" and factory.balance(lot, globe.moulder, Condition.STOCK) == 24
    assert genealogy.ancestors(lot.pk) == {globe.lot().pk}
    lies = globe.lies()
    assert sum(lies.values()) == 0 and not any(at[1] in ("in_process", "stock", "rework") for at in lies)
    assert not Hold.objects.filter(closed_at=None).exists()
    hold.refresh_from_db()
    assert (hold.disposition, hold.reason) == ("regrade", "as seconds")
    assert unproved_inside(Lot.objects.filter(pk=lot.pk), "pack") == {}
    assert everything_agrees()


def test_what_else_holds_the_lot_holds_what_became_of_it() -> None:
    globe, hold, second = _failed()
    other = holds.open_hold(factory.make_event("dirt"), globe.lot(), cause="held", code="held_by_founder")
    ok(
        decide(
            event_context=globe.event_context(), hold_id=hold.pk, disposition="regrade", reason="x", to_part=second.pk
        )
    )
    lot = Lot.objects.get(part=second)
    assert [row.root_id for row in Hold.objects.filter(lot=lot, closed_at=None)] == [other.pk]


def test_a_regraded_lot_is_not_held_again_for_the_same_reason() -> None:
    globe, hold, second = _failed()
    ok(
        decide(
            event_context=globe.event_context(), hold_id=hold.pk, disposition="regrade", reason="x", to_part=second.pk
        )
    )
    globe.finish(30)
    assert globe.open_holds() == []
    assert everything_agrees()


def test_what_was_made_of_it_meanwhile_waits_for_a_decision_of_its_own() -> None:
    globe = make_globe(insert=True)
    inserts = factory.make_stock(globe.insert, globe.bench, 100)
    globe.report(20, 10)
    globe.report(50, 10)
    hold = holds.open_hold(factory.make_event("h"), inserts, cause="held", code="held_by_founder")
    ok(
        decide(
            event_context=globe.event_context(),
            hold_id=hold.pk,
            disposition="regrade",
            reason="x",
            to_part=_other("X").pk,
        )
    )
    assert len(globe.open_holds()) == 1
    assert everything_agrees()


def _other(number: str, unit: str = "C62") -> Part:
    return factory.make_part(number, "bought", unit=unit)


def test_the_same_part_none_or_one_of_another_unit_is_refused() -> None:
    globe, hold, _second = _failed()
    resin = _other("RESIN", "GRM")
    for to_part, code in (
        (None, "regrade_needs_another_part"),
        (globe.part.pk, "regrade_needs_another_part"),
        (resin.pk, "regrade_other_unit"),
    ):
        answer = decide(
            event_context=globe.event_context(), hold_id=hold.pk, disposition="regrade", reason="x", to_part=to_part
        )
        assert refused(answer).code == code
    assert len(globe.open_holds()) == 1


def test_a_lot_without_pieces_has_nothing_to_regrade() -> None:
    globe, hold, second = _failed()
    other = holds.open_hold(factory.make_event("h"), globe.lot(), cause="held", code="held_by_founder")
    ok(decide(event_context=globe.event_context(), hold_id=hold.pk, disposition="scrap", reason="x"))
    answer = decide(
        event_context=globe.event_context(), hold_id=other.pk, disposition="regrade", reason="x", to_part=second.pk
    )
    assert refused(answer).code == "nothing_there"


def test_a_bought_lot_marked_for_return_stays_held_and_may_be_sent_back() -> None:
    bench, supplier = factory.make_bench(), factory.make_site("supplier", "supplier")
    lot = factory.make_stock(factory.make_part("PUCK", "bought"), bench, 40)
    hold = holds.open_hold(factory.make_event("h"), lot, cause="held", code="held_by_founder", figures={"reason": "r"})
    ok(decide(event_context=factory.event_context(1), hold_id=hold.pk, disposition="return", reason="rusty"))
    hold.refresh_from_db()
    assert (hold.disposition, hold.reason, hold.closed_at) == ("return", "rusty", None)
    line = SendLine(lot.pk, 40)
    ends = {"origin_id": bench.pk, "destination_id": supplier.pk, "lines": [line]}
    assert refused(send(event_context=factory.event_context(2), **ends, purpose="stock")).code == "held"  # type: ignore[arg-type]
    ok(send(event_context=factory.event_context(3), **ends, purpose="return", note="scratched"))  # type: ignore[arg-type]
    assert everything_agrees()
    # Thought better of: the hold is still open to be decided.
    ok(decide(event_context=factory.event_context(4), hold_id=hold.pk, disposition="release", reason="taken back"))
    assert everything_agrees()


def test_what_was_made_here_cannot_be_returned() -> None:
    globe, hold, _second = _failed()
    answer = decide(event_context=globe.event_context(), hold_id=hold.pk, disposition="return", reason="x")
    assert refused(answer).code == "return_is_for_bought"
