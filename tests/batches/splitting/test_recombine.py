"""Lots kept apart become one: conservation, no lot its own ancestor, the worst of everything inherited."""

from __future__ import annotations

from datetime import date

import pytest

from tests import factory
from tests.globe import COOLING, Globe, everything_agrees, make_globe, ok, physical_total, refused
from traveller.batches.actions.decide import decide
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.recombine import recombine
from traveller.batches.actions.split import split
from traveller.batches.models import Batch
from traveller.batches.proof import gates
from traveller.batches.steps.answer import Answer
from traveller.journal.refusal import Refusal
from traveller.ledger import genealogy
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Place

pytestmark = pytest.mark.django_db


def _split(globe: Globe, quantity: int, condition: str = Condition.IN_PROCESS, step: int = 30) -> Batch:
    place = Place(globe.lot().pk, globe.moulder.pk, condition, step)
    answer = ok(
        split(
            event_context=globe.event_context(),
            batch_id=globe.batch.pk,
            place=place,
            quantity=quantity,
            reason="two fixtures",
        )
    )
    return answer.children[0]


def _join(
    globe: Globe, *batches: Batch, condition: str = Condition.IN_PROCESS, step: int = 30, reason: str = "one again"
) -> Answer | Refusal:
    return recombine(
        event_context=globe.event_context(),
        lot_ids=[globe.lot(batch).pk for batch in batches],
        site_id=globe.moulder.pk,
        condition=condition,
        step=step,
        reason=reason,
    )


def test_children_of_one_split_become_one_and_nothing_is_lost() -> None:
    globe = make_globe()
    globe.report(20, 60)
    one, two = _split(globe, 20), _split(globe, 15)
    before = sum(physical_total(lot) for lot in Lot.objects.all())
    (joined,) = ok(_join(globe, one, two)).children
    assert globe.lies(joined) == {("moulder", "made_from", 30): -35, ("moulder", "in_process", 30): 35}
    assert sum(physical_total(lot) for lot in Lot.objects.all()) == before
    for lot in Lot.objects.all():
        assert lot.pk not in genealogy.ancestors(lot.pk)
    assert Batch.objects.get(pk=one.pk).closed_at is not None
    globe.report(30, 35, batch=joined, done=True)
    assert everything_agrees()


def test_a_child_rejoins_what_it_was_split_from_without_a_circle() -> None:
    globe = make_globe()
    globe.report(20, 60)
    child = _split(globe, 20)
    (joined,) = ok(_join(globe, globe.batch, child)).children
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30, batch=joined) == 60
    assert globe.lot(joined).pk not in genealogy.ancestors(globe.lot(joined).pk)
    assert {globe.lot().pk, globe.lot(child).pk} <= genealogy.ancestors(globe.lot(joined).pk)
    assert everything_agrees()


def test_what_holds_either_holds_what_they_became_until_it_is_let_go() -> None:
    globe = make_globe()
    globe.report(20, 60)
    child = _split(globe, 20)
    answer = ok(hold_lot(event_context=globe.event_context(), lot_id=globe.lot(child).pk, reason="scratched"))
    (joined,) = ok(_join(globe, globe.batch, child)).children
    assert len(globe.open_holds(joined)) == 1
    ok(decide(event_context=globe.event_context(), hold_id=answer.holds[0].pk, disposition="release", reason="wiped"))
    assert globe.open_holds(joined) == []
    assert everything_agrees()


def test_it_expires_with_the_first_of_them() -> None:
    globe = make_globe()
    globe.report(20, 60)
    child = _split(globe, 20)
    Lot.objects.filter(pk=globe.lot(child).pk).update(expires_on=date(2026, 5, 1))
    Lot.objects.filter(pk=globe.lot().pk).update(expires_on=date(2026, 9, 1))
    (joined,) = ok(_join(globe, globe.batch, child)).children
    assert globe.lot(joined).expires_on == date(2026, 5, 1)


def test_what_either_has_not_proved_is_not_proved() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 48)
    load = globe.cool(24, 15)
    globe.report(30, 24, load=load.uid)
    good = _split(globe, 10, Condition.STOCK, 30)
    assert gates.closed(good, "send") == []
    other = factory.make_batch(globe.part, name="other")
    globe.report(20, 24, batch=other)
    globe.report(30, 24, batch=other)
    (joined,) = ok(_join(globe, good, other, condition=Condition.STOCK)).children
    assert [block.step for block in gates.closed(joined, "send")] == [30]
    # Also what is split off from it, and asked among many.
    place = Place(globe.lot(joined).pk, globe.moulder.pk, Condition.STOCK, 30)
    apart = ok(
        split(event_context=globe.event_context(), batch_id=joined.pk, place=place, quantity=5, reason="x")
    ).children[0]
    assert [block.step for block in gates.closed(apart, "send")] == [30]
    assert {at.batch_id for at in gates.closed_among([gates.Stretch(b.pk) for b in (joined, apart, good)], "send")} == {
        joined.pk,
        apart.pk,
    }
    assert everything_agrees()


def test_only_what_waits_for_the_same_step_at_the_same_place_becomes_one() -> None:
    globe = make_globe()
    globe.report(20, 60)
    globe.report(30, 20)
    child = _split(globe, 10)
    assert refused(_join(globe, globe.batch, child, condition=Condition.STOCK)).code == "nothing_of_it_there"
    assert refused(_join(globe, globe.batch, child, reason=" ")).code == "reason_needed"
    assert refused(_join(globe, child)).code == "mix_needs_two"


def test_pieces_in_a_load_are_counted_before_they_join() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 60)
    child = _split(globe, 10)
    globe.put_in(24)
    assert refused(_join(globe, globe.batch, child)).code == "load_is_in"


def test_other_parts_do_not_become_one() -> None:
    globe = make_globe()
    globe.report(20, 60)
    other = factory.make_stock(factory.make_part("BAND"), globe.moulder, 10)
    answer = recombine(
        event_context=globe.event_context(),
        lot_ids=[globe.lot().pk, other.pk],
        site_id=globe.moulder.pk,
        condition=Condition.IN_PROCESS,
        step=30,
        reason="x",
    )
    assert refused(answer).code == "mix_other_part"
