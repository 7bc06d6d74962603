"""Undo: within ten minutes, by the same site, until somebody built on it; then everything is as before."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from tests import factory
from tests.globe import COOLING, TESTING, Globe, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.decide import decide
from traveller.batches.actions.loads import start_load
from traveller.batches.actions.measure import measure
from traveller.batches.actions.report import report
from traveller.batches.actions.start_step import start_step
from traveller.batches.actions.undo import undo
from traveller.batches.models import Load, Reading, Step, StepState, Verdict
from traveller.batches.proof.load_counts import counted_loads
from traveller.batches.proof.readings import ReadingTold
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.consume import Used
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.ledger import genealogy
from traveller.ledger.holds import open_on
from traveller.ledger.models import Account, Condition

pytestmark = [pytest.mark.django_db, pytest.mark.both]
LENGTH = factory.CheckRow(
    "length", "dimension", {"name": "length", "nominal": "2", "tolerance": "0.005", "unit": "in"}, scope="lot"
)


def _undo(globe: Globe, event: Event, *, minutes: float = 1, site: Any = None, name: str = "") -> Answer | Refusal:
    actor = factory.operator(site or globe.moulder)
    event_context = replace(globe.event_context(event.recorded_at + timedelta(minutes=minutes)), actor=actor)
    return undo(
        event_context=replace(event_context, uid=factory.uid(name)) if name else event_context, event_id=event.pk
    )


def _books(globe: Globe) -> tuple[Any, ...]:
    """All balances, and the columns of every step."""
    rows = Account.objects.exclude(balance=0).values_list("lot", "site", "condition", "step", "balance")
    columns = ("number", "state", "started_at", "done_at", "good", "scrap", "rework", "samples", "shots")
    steps = Step.objects.values_list("batch", *columns, "again_good", "again_scrap", "open_cavities")
    return sorted(rows), sorted(steps, key=str)


def test_a_count_taken_back_leaves_every_balance_and_state_as_it_was() -> None:
    globe = make_globe()
    globe.report(20, 60)
    before = _books(globe)
    wrong = globe.report(30, 20, scrap={"warped": 3}, rework=2, done=True, shots=4)
    assert _books(globe) != before
    answer = ok(_undo(globe, wrong.event))
    assert answer.event.kind == "undone"
    assert answer.event.corrects == wrong.event
    assert _books(globe) == before
    assert everything_agrees()


def test_the_first_count_of_a_batch_taken_back_leaves_its_step_waiting() -> None:
    globe = make_globe()
    wrong = globe.report(20, 480)
    ok(_undo(globe, wrong.event))
    assert globe.step(20).state == StepState.WAITING
    assert globe.step(20).started_at is None
    assert globe.lies() == {}
    assert everything_agrees()


def test_a_count_taken_back_twice_is_taken_back_once() -> None:
    globe = make_globe()
    wrong = globe.report(20, 10)
    first = ok(_undo(globe, wrong.event, name="tap"))
    assert ok(_undo(globe, wrong.event, name="tap")).event == first.event
    assert ok(_undo(globe, wrong.event, name="another phone")).event == first.event
    assert globe.step(20).good == 0


def test_after_ten_minutes_it_is_too_late() -> None:
    globe = make_globe()
    wrong = globe.report(20, 10)
    assert refused(_undo(globe, wrong.event, minutes=10.1)).code == "too_late_to_undo"
    ok(_undo(globe, wrong.event, minutes=10))


def test_an_undoing_tapped_without_a_signal_counts_from_the_tap() -> None:
    globe = make_globe()
    wrong = globe.report(20, 10)
    tapped = wrong.event.recorded_at + timedelta(minutes=3)
    event_context = replace(globe.event_context(tapped), actor=factory.operator(globe.moulder))
    ok(undo(event_context=replace(event_context, recorded_at=tapped + timedelta(hours=5)), event_id=wrong.event.pk))


def test_another_site_has_nothing_to_take_back() -> None:
    globe = make_globe()
    wrong = globe.report(20, 10)
    assert refused(_undo(globe, wrong.event, site=globe.bench)).code == "nothing_to_undo"


def test_what_was_sent_since_cannot_be_taken_back() -> None:
    globe = make_globe()
    globe.report(20, 40)
    wrong = globe.report(30, 40)
    globe.moved(30)
    assert refused(_undo(globe, wrong.event)).code == "built_upon"
    assert globe.step(30).good == 40


def test_what_was_counted_on_at_the_next_step_cannot_be_taken_back() -> None:
    globe = make_globe()
    wrong = globe.report(20, 40)
    globe.report(30, 10)
    assert refused(_undo(globe, wrong.event)).code == "built_upon"


def test_it_can_once_what_was_built_on_it_is_taken_back_too() -> None:
    globe = make_globe()
    first = globe.report(20, 40)
    second = globe.report(30, 10)
    ok(_undo(globe, second.event))
    ok(_undo(globe, first.event))
    assert globe.lies() == {}
    assert everything_agrees()


def test_another_count_of_the_same_step_is_not_built_on_it() -> None:
    globe = make_globe()
    wrong = globe.report(20, 40)
    globe.report(20, 5)
    ok(_undo(globe, wrong.event))
    assert globe.step(20).good == 5
    assert globe.step(20).started_at != wrong.event.happened_at
    assert everything_agrees()


def test_a_count_that_was_corrected_is_not_undone_and_one_undone_is_not_corrected() -> None:
    globe = make_globe()
    wrong = globe.report(20, 40)
    ok(correct_count(event_context=globe.event_context(), event_id=wrong.event.pk, reason="recounted", good=39))
    assert refused(_undo(globe, wrong.event)).code == "built_upon"
    other = globe.report(20, 7)
    ok(_undo(globe, other.event))
    again = correct_count(event_context=globe.event_context(), event_id=other.event.pk, reason="recounted", good=6)
    assert refused(again).code == "was_undone"


def test_what_was_used_up_comes_back_and_is_no_longer_traced() -> None:
    globe = make_globe(insert=True)
    inserts = factory.make_stock(globe.insert, globe.bench, 100)
    globe.report(20, 40)
    globe.report(30, 40)
    globe.moved(40)
    globe.report(40, 40)
    before = _books(globe)
    scanned = globe.report(50, 10, used=[Used(inserts.pk, 12)])
    ok(_undo(globe, scanned.event, site=globe.bench))
    inferred = globe.report(50, 10)
    assert globe.lot().pk in genealogy.descendants(inserts.pk)
    ok(_undo(globe, inferred.event, site=globe.bench))
    assert _books(globe) == before
    assert globe.lot().pk not in genealogy.descendants(inserts.pk)
    assert everything_agrees()


def test_a_hold_inherited_from_a_lot_scanned_by_mistake_goes_with_it() -> None:
    from traveller.batches.actions.hold import hold_lot

    globe = make_globe(insert=True)
    inserts = factory.make_stock(globe.insert, globe.bench, 100)
    ok(hold_lot(event_context=globe.event_context(), lot_id=inserts.pk, reason="a complaint"))
    globe.report(20, 40)
    globe.report(30, 40)
    globe.moved(40)
    globe.report(40, 40)
    wrong = globe.report(50, 10, used=[Used(inserts.pk)])
    assert open_on([globe.lot().pk])
    ok(_undo(globe, wrong.event, site=globe.bench))
    assert not open_on([globe.lot().pk])
    assert everything_agrees()


def test_a_load_put_in_by_mistake_is_struck_and_what_was_counted_still_stands() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 60)
    globe.cooled((24, 15))
    wrong = ok(start_load(event_context=globe.event_context(), step_id=globe.step(30).pk, quantity=24))
    ok(_undo(globe, wrong.event))
    assert Load.objects.get(uid=wrong.event.uid).struck_by is not None
    globe.finish(30, lost=36)
    assert Verdict.objects.get(step=globe.step(30), load=None, latest=True).outcome == "passed"
    assert everything_agrees()


def test_a_load_said_to_be_out_by_mistake_is_in_again() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 24)
    load = globe.put_in(24)
    before = _books(globe)
    wrong = globe.take_out(load, load.started_at + timedelta(minutes=20), late_reason="phone was flat")
    ok(_undo(globe, wrong.event))
    load.refresh_from_db()
    assert (load.ended_at, load.late_reason) == (None, "")
    assert _books(globe) == before
    assert everything_agrees()


def test_a_load_that_failed_alone_is_in_again_and_its_lot_free() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 24)
    load = globe.put_in(24)
    wrong = globe.take_out(load, load.started_at + timedelta(minutes=5))
    assert globe.open_holds()
    ok(_undo(globe, wrong.event))
    assert globe.open_holds() == []
    assert everything_agrees()


def test_a_load_counted_since_stays_out() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 60)
    load = globe.put_in(24)
    wrong = globe.take_out(load, load.started_at + timedelta(minutes=20))
    globe.report(30, 24, load=load.uid)
    assert refused(_undo(globe, wrong.event)).code == "built_upon"


def test_a_load_whose_pieces_were_set_apart_stays_out() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 60)
    load = globe.put_in(24)
    wrong = globe.take_out(load, load.started_at + timedelta(minutes=5))
    assert globe.children()
    assert refused(_undo(globe, wrong.event)).code == "built_upon"


def test_a_reading_mistyped_is_struck_and_the_hold_it_caused_is_gone() -> None:
    globe = make_globe(checks={30: (LENGTH,)})
    globe.report(20, 20)
    wrong = ok(
        measure(
            event_context=globe.event_context(),
            step_id=globe.step(30).pk,
            readings=[ReadingTold("length", "length", "21", "in")],
        )
    )
    assert globe.open_holds()
    ok(_undo(globe, wrong.event))
    assert Reading.objects.get().struck_by is not None
    assert globe.open_holds() == []
    assert globe.step(30).state == StepState.WAITING
    assert everything_agrees()


def test_what_the_founder_has_decided_since_is_not_undone() -> None:
    globe = make_globe(checks={30: (LENGTH,)})
    globe.report(20, 20)
    wrong = ok(
        measure(
            event_context=globe.event_context(),
            step_id=globe.step(30).pk,
            readings=[ReadingTold("length", "length", "21", "in")],
        )
    )
    (hold,) = globe.open_holds()
    ok(decide(event_context=globe.event_context(), hold_id=hold.pk, disposition="concession", reason="long enough"))
    assert refused(_undo(globe, wrong.event)).code == "built_upon"


def test_a_step_said_to_be_done_by_mistake_goes_on() -> None:
    globe = make_globe(checks={40: (TESTING,)})
    globe.report(20, 40)
    globe.report(30, 40)
    globe.moved(40)
    globe.report(40, 30)
    before = _books(globe)
    wrong = globe.finish(40, lost=10)
    ok(_undo(globe, wrong.event, site=globe.bench))
    assert _books(globe) == before
    assert everything_agrees()


def test_a_step_started_by_mistake_waits_again() -> None:
    globe = make_globe()
    wrong = ok(start_step(event_context=globe.event_context(), step_id=globe.step(20).pk, open_cavities=1))
    ok(_undo(globe, wrong.event))
    assert (globe.step(20).state, globe.step(20).open_cavities) == (StepState.WAITING, 2)
    assert everything_agrees()


def test_a_count_told_before_its_pieces_came_is_not_undone_after_they_came() -> None:
    globe = make_globe()
    early = ok(report(event_context=globe.event_context(), step_id=globe.step(40).pk, good=10))
    globe.report(20, 10)
    globe.report(30, 10)
    globe.moved(10)
    assert refused(_undo(globe, early.event, site=globe.bench)).code == "built_upon"


def test_what_is_no_news_of_a_step_is_not_undone() -> None:
    globe = make_globe()
    globe.report(20, 10)
    released = globe.batch.released_event
    assert refused(_undo(globe, released)).code == "nothing_to_undo"


def test_a_load_whose_count_was_taken_back_is_counted_again_and_still_set_apart_when_it_fails() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 60)
    load = globe.put_in(24)
    wrong = globe.report(30, 24, load=load.uid)
    ok(_undo(globe, wrong.event))
    assert counted_loads([load.pk]) == set()
    globe.take_out(load, load.started_at + timedelta(minutes=5))
    (child,) = globe.children()
    globe.report(30, 24, load=load.uid, batch=child)
    assert counted_loads([load.pk]) == {load.pk}
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30) == 36
    assert everything_agrees()
