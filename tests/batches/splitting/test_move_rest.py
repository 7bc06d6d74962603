"""The rest of a batch at a site: it joins the next batch, or is carried to where it is wanted; always with a reason."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from sites.models import Site
from tests import factory
from tests.globe import COOLING, Globe, everything_agrees, make_globe, ok, physical_total, refused
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.move_rest import move_rest
from traveller.batches.actions.split import split
from traveller.batches.models import Batch
from traveller.batches.proof import gates
from traveller.batches.steps.answer import Answer
from traveller.journal.refusal import Refusal
from traveller.ledger import genealogy
from traveller.ledger.models import Condition, Lot
from traveller.ledger.post import Place

pytestmark = pytest.mark.django_db


def _move(
    globe: Globe,
    batch: Batch,
    condition: str = Condition.IN_PROCESS,
    step: int = 30,
    *,
    reason: str = "12 left",
    site: Site | None = None,
    **reported: Any,
) -> Answer | Refusal:
    place = Place(globe.lot(batch).pk, (site or globe.moulder).pk, condition, step)
    return move_rest(event_context=globe.event_context(), batch_id=batch.pk, place=place, reason=reason, **reported)


def test_the_rest_of_a_batch_joins_the_next_one_before_that_has_a_piece() -> None:
    globe = make_globe()
    globe.report(20, 12, done=True)
    after = factory.make_batch(globe.part, name="next")
    answer = ok(_move(globe, globe.batch, to_batch=after.pk))
    assert answer.event.data["quantity"] == 12
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30, batch=after) == 12
    assert physical_total(globe.lot()) == 0
    assert Batch.objects.get(pk=globe.batch.pk).closed_at is not None
    globe.report(20, 40, batch=after)
    globe.report(30, 52, batch=after)
    assert globe.lot().pk in genealogy.ancestors(globe.lot(after).pk)
    assert everything_agrees()


def test_what_holds_the_rest_holds_the_batch_that_it_joined() -> None:
    globe = make_globe()
    globe.report(20, 12)
    after = factory.make_batch(globe.part, name="next")
    globe.report(20, 40, batch=after)
    Lot.objects.filter(pk=globe.lot().pk).update(expires_on=date(2026, 5, 1))
    ok(hold_lot(event_context=globe.event_context(), lot_id=globe.lot().pk, reason="odd"))
    ok(_move(globe, globe.batch, to_batch=after.pk))
    assert len(globe.open_holds(after)) == 1
    assert globe.lot(after).expires_on == date(2026, 5, 1)
    assert everything_agrees()


def test_what_the_rest_has_not_proved_blocks_the_batch_that_it_joined() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 12)
    globe.report(30, 12)
    after = factory.make_batch(globe.part, name="next")
    globe.report(20, 24, batch=after)
    load = globe.cool(24, 15, batch=after)
    globe.report(30, 24, load=load.uid, batch=after)
    assert gates.closed(after, "send") == []
    ok(_move(globe, globe.batch, Condition.STOCK, 30, to_batch=after.pk))
    after.refresh_from_db()
    assert [block.step for block in gates.closed(after, "send")] == [30]
    assert set(gates.closed_among([gates.Stretch(after.pk)], "send")) == {gates.Stretch(after.pk)}
    assert everything_agrees()


def test_a_step_that_was_done_goes_on_with_the_rest_that_joined() -> None:
    globe = make_globe()
    globe.report(20, 12)
    after = factory.make_batch(globe.part, name="next")
    globe.report(20, 24, batch=after)
    globe.report(30, 24, batch=after, done=True)
    ok(_move(globe, globe.batch, to_batch=after.pk))
    assert globe.step(30, after).state == "running"
    assert everything_agrees()


def test_no_lot_becomes_its_own_ancestor() -> None:
    globe = make_globe()
    globe.report(20, 40)
    place = Place(globe.lot().pk, globe.moulder.pk, Condition.IN_PROCESS, 30)
    ok(split(event_context=globe.event_context(), batch_id=globe.batch.pk, place=place, quantity=10, reason="x"))
    (child,) = globe.children()
    assert refused(_move(globe, child, to_batch=globe.batch.pk)).code == "own_ancestor"
    assert refused(_move(globe, globe.batch, to_batch=globe.batch.pk)).code == "other_routing"
    ok(_move(globe, globe.batch, to_batch=child.pk))
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30, batch=child) == 40
    assert everything_agrees()


def test_the_rest_is_carried_to_its_next_step_as_sending_would_allow_it() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 24)
    globe.report(30, 24)
    assert refused(_move(globe, globe.batch, Condition.STOCK, 30, to_site=globe.bench.pk)).code == "not_proved"
    other = factory.make_batch(globe.part, name="proved")
    globe.report(20, 24, batch=other)
    load = globe.cool(24, 15, batch=other)
    globe.report(30, 24, load=load.uid, batch=other)
    stray = factory.make_site("printer")
    assert refused(_move(globe, other, Condition.STOCK, 30, to_site=stray.pk)).code == "wrong_destination"
    ok(_move(globe, other, Condition.STOCK, 30, to_site=globe.bench.pk))
    assert globe.lies(other) == {("moulder", "made_from", 20): -24, ("bench", "in_process", 40): 24}
    assert everything_agrees()


def test_a_rest_moves_only_with_a_reason_and_one_place_to_go() -> None:
    globe = make_globe()
    globe.report(20, 24)
    bench = globe.bench.pk
    assert refused(_move(globe, globe.batch, reason=" ", to_site=bench)).code == "reason_needed"
    assert refused(_move(globe, globe.batch)).code == "say_where_to"
    assert refused(_move(globe, globe.batch, Condition.STOCK, 0, to_site=bench)).code == "nothing_there"
