"""Splits and leftovers make small lots: a sample check judges each by what was looked at in it."""

from __future__ import annotations

import pytest

from tests import factory
from tests.globe import Globe, everything_agrees, make_globe, ok
from traveller.batches.actions.measure import measure
from traveller.batches.actions.split import split
from traveller.batches.models import Batch, Verdict
from traveller.batches.proof import gates
from traveller.batches.proof.readings import ReadingTold
from traveller.batches.usable import usable
from traveller.ledger.models import Condition
from traveller.ledger.post import Place

pytestmark = pytest.mark.django_db

LOOKS = factory.CheckRow("looks", "sample", {"name": "looks", "sample": "50", "accept": "3"}, "lot", "consuming")


def parted() -> tuple[Globe, Batch]:
    """Sixty at the bench, of which three are treated by themselves before anybody looked at one."""
    globe = make_globe(checks={40: (LOOKS,)})
    globe.report(20, 60)
    globe.report(30, 60)
    globe.moved(60)
    place = Place(globe.lot().pk, globe.bench.pk, Condition.IN_PROCESS, 40)
    ok(split(event_context=globe.event_context(), batch_id=globe.batch.pk, place=place, quantity=3, reason="amber"))
    (child,) = globe.children()
    return globe, child


def look(globe: Globe, batch: Batch, looked_at: int, bad: int) -> None:
    told = [ReadingTold("looks", "looked_at", str(looked_at), ""), ReadingTold("looks", "bad", str(bad), "")]
    ok(measure(event_context=globe.event_context(), step_id=globe.step(40, batch).pk, readings=told))


def stopped(globe: Globe, batch: Batch) -> str:
    """What keeps its pieces from being used; empty where nothing does."""
    lot = globe.lot(batch)
    found = usable([lot.pk], "consume", factory.MONDAY.date())[lot.pk]
    return found.code if found else ""


def test_three_bad_ones_of_three_are_no_sample_of_fifty() -> None:
    globe, child = parted()
    look(globe, child, 3, 3)
    assert Verdict.objects.get(step=globe.step(40, child), latest=True).outcome == "failed"
    assert [hold.code for hold in globe.open_holds(child)] == ["sample.bad_left"]
    globe.report(40, 3, batch=child, done=True)
    assert stopped(globe, child) == "held"
    look(globe, globe.batch, 50, 3)
    globe.report(40, 57, done=True)
    assert stopped(globe, globe.batch) == "", "the plan is for a lot of that size, and accepts three"
    assert everything_agrees()


def test_one_bad_one_of_three_stops_the_others_until_it_is_taken_out() -> None:
    globe, child = parted()
    look(globe, child, 3, 1)
    assert [(block.step, block.code) for block in gates.closed(child, "consume")] == [(40, "sample.bad_left")]
    assert globe.open_holds(child) == []
    globe.report(40, 2, batch=child, scrap={"dirty": 1}, done=True)
    assert Verdict.objects.get(step=globe.step(40, child), latest=True).code == "sample.sorted"
    assert stopped(globe, child) == ""
    assert everything_agrees()


def test_a_bad_one_that_was_counted_good_holds_the_small_lot() -> None:
    globe, child = parted()
    globe.report(40, 3, batch=child, done=True)
    look(globe, child, 3, 1)
    assert [hold.code for hold in globe.open_holds(child)] == ["sample.bad_left"]
    assert stopped(globe, child) == "held"
