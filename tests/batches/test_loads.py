"""Loads are judged one by one; one that failed is parted from its lot, so that the rest goes on."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests import factory
from tests.globe import COOLING, DRYING, Globe, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.decide import decide
from traveller.batches.actions.loads import end_load, start_load
from traveller.batches.actions.report import report
from traveller.batches.actions.start_step import start_step
from traveller.batches.models import Load, Verdict
from traveller.batches.proof import gates
from traveller.batches.proof.readings import ReadingTold
from traveller.ledger.models import Condition

pytestmark = pytest.mark.django_db

CURE = factory.CheckRow("cure", "window", {"least": "8", "unit": "min"}, scope="load", blocks="sending")


def _cooling(pieces: int = 72) -> Globe:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, pieces)
    return globe


def test_fifteen_minutes_pass_and_a_second_less_does_not() -> None:
    globe = _cooling()
    right, short = globe.put_in(24), globe.put_in(24)
    assert globe.take_out(right, right.started_at + timedelta(minutes=15)).children == []
    answer = globe.take_out(short, short.started_at + timedelta(minutes=14, seconds=59))
    assert len(answer.children) == 1
    outcomes = {row.load_id: row.outcome for row in Verdict.objects.filter(load__isnull=False, latest=True)}
    assert outcomes == {right.pk: "passed", short.pk: "failed"}
    assert Verdict.objects.get(load=short, latest=True).figures["lasted"] == "14.98"


def test_a_load_taken_out_too_early_is_parted_and_held_and_the_rest_stays_free() -> None:
    globe = _cooling(72)
    globe.cool(24, 15)
    short = globe.cool(24, 9)
    (child,) = globe.children()
    assert globe.lies(child) == {
        ("moulder", "made_from", 30): -24,
        ("moulder", "in_process", 30): 24,
    }
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30) == 48
    (hold,) = globe.open_holds(child)
    assert (hold.code, hold.figures["lasted"], hold.figures["least"]) == ("held.too_short", "9", "15")
    assert globe.open_holds() == []
    assert (short.step.batch, child.parent) == (child, globe.batch)
    assert child.code == globe.lot(child).code != globe.batch.code
    assert [step.number for step in child.steps.order_by("number")] == [30, 40, 50]
    assert everything_agrees()


def test_the_rest_of_the_lot_may_be_sent_and_the_parted_load_may_not() -> None:
    globe = _cooling(48)
    good = globe.cool(24, 15)
    bad = globe.cool(24, 9)
    globe.report(30, 24, load=good.uid)
    globe.report(30, 24, load=bad.uid)  # the phone still names the step of the parent
    (child,) = globe.children()
    assert globe.at(globe.moulder, Condition.STOCK, 30) == 24
    assert globe.at(globe.moulder, Condition.STOCK, 30, batch=child) == 24
    assert globe.at(globe.moulder, Condition.UNREPORTED, 30) == 0
    globe.finish(30)
    ok(globe.send(24))
    refusal = refused(globe.send(24, batch=child))
    assert (refusal.code, refusal.figures["why_code"]) == ("held", "held.too_short")
    assert everything_agrees()


def test_a_load_counted_before_it_was_judged_is_parted_with_its_pieces() -> None:
    """The count comes first, then the end of the load: its good pieces leave the shelf for a lot of their own."""
    globe = _cooling(72)
    load = globe.put_in(24)
    globe.report(30, 22, scrap={"warped": 2}, load=load.uid)
    globe.take_out(load, load.started_at + timedelta(minutes=9))
    (child,) = globe.children()
    assert globe.lies(child) == {("moulder", "made_from", 30): -22, ("moulder", "stock", 30): 22}
    assert globe.at(globe.moulder, Condition.STOCK, 30) == 0
    assert globe.step(30, child).state == "done"
    assert len(globe.open_holds(child)) == 1
    assert everything_agrees()


def test_a_correction_of_a_parted_loads_count_reaches_the_childs_lot() -> None:
    globe = _cooling(72)
    load = globe.put_in(24)
    wrong = globe.report(30, 24, load=load.uid)
    globe.take_out(load, load.started_at + timedelta(minutes=9))
    (child,) = globe.children()
    ok(
        correct_count(
            event_context=globe.event_context(), event_id=wrong.event.pk, reason="recounted", good=22, scrap={"x": 2}
        )
    )
    assert globe.at(globe.moulder, Condition.STOCK, 30, batch=child) == 22
    assert globe.at(globe.moulder, Condition.SCRAP, 30, batch=child) == 2
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 30) == 0
    assert globe.step(30).good == 22


def test_where_the_failed_load_is_all_there_is_the_lot_itself_is_held() -> None:
    globe = _cooling(24)
    globe.cool(24, 9)
    assert globe.children() == []
    (hold,) = globe.open_holds()
    assert hold.cause == "check:30:cooling"
    assert everything_agrees()


def test_a_press_load_is_parted_once_its_pieces_are_born_and_others_lie_beside_them() -> None:
    """Cure at a making step: the load fails before its pieces are counted, so the whole lot waits for a while."""
    globe = make_globe(checks={20: (CURE,)})
    bad = globe.cool(24, 5, step=20)
    assert [hold.code for hold in globe.open_holds()] == ["held.too_short"]
    globe.report(20, 24, load=bad.uid)
    assert globe.children() == []
    good = globe.cool(24, 8, step=20)
    globe.report(20, 24, load=good.uid)
    (child,) = globe.children()
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30, batch=child) == 24
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30) == 24
    assert globe.open_holds() == []
    assert [hold.code for hold in globe.open_holds(child)] == ["held.too_short"]
    assert everything_agrees()


def test_two_failed_loads_become_two_lots() -> None:
    globe = _cooling(72)
    globe.cooled((24, 9), (24, 15), (24, 10))
    assert [globe.at(globe.moulder, Condition.STOCK, 30, batch=child) for child in globe.children()] == [24, 24]
    assert globe.at(globe.moulder, Condition.STOCK, 30) == 24
    numbers = {load.number for load in Load.objects.all()}
    assert numbers == {1, 2, 3}
    globe.finish(30)
    assert gates.closed(globe.batch, "send") == []
    assert everything_agrees()


def test_the_start_of_a_load_may_be_told_later_with_its_reason() -> None:
    globe = _cooling(72)
    load = globe.put_in(24)
    answer = globe.take_out(
        load,
        load.started_at + timedelta(minutes=10),
        started_at=load.started_at - timedelta(minutes=6),
        late_reason="tapped start when it was already in",
    )
    assert answer.children == []
    load.refresh_from_db()
    assert load.late_reason
    assert Verdict.objects.get(load=load, latest=True).figures["lasted"] == "16"
    assert everything_agrees()


def test_resin_is_dried_before_there_is_a_lot_and_moulding_waits_for_it() -> None:
    globe = make_globe(checks={10: (DRYING,)})
    refusal = refused(start_step(event_context=globe.event_context(), step_id=globe.step(20).pk))
    assert (refusal.code, refusal.figures["step"]) == ("not_proved", 10)
    load = globe.put_in(0, step=10)
    globe.take_out(load, load.started_at + timedelta(hours=3))
    globe.batch.refresh_from_db()
    # A gate that failed holds at once, so the lot is born before its pieces.
    assert [hold.code for hold in globe.open_holds()] == ["held.too_short"]
    assert globe.children() == []
    assert refused(start_step(event_context=globe.event_context(), step_id=globe.step(20).pk)).code == "not_proved"
    answer = ok(start_step(event_context=globe.event_context(), step_id=globe.step(20).pk, already=True))
    assert answer.event.kind == "step started"
    (hold,) = globe.open_holds()
    ok(
        decide(
            event_context=globe.event_context(), hold_id=hold.pk, disposition="concession", reason="dried yesterday too"
        )
    )
    ok(start_step(event_context=globe.event_context(), step_id=globe.step(20).pk))
    assert everything_agrees()


def test_resin_dried_long_enough_makes_no_lot_and_opens_the_gate() -> None:
    globe = make_globe(checks={10: (DRYING,)})
    load = globe.put_in(0, step=10)
    globe.take_out(load, load.started_at + timedelta(hours=4))
    globe.finish(10)
    globe.batch.refresh_from_db()
    assert globe.batch.lot is None
    ok(start_step(event_context=globe.event_context(), step_id=globe.step(20).pk))
    assert everything_agrees()


def test_a_count_or_a_reading_of_an_unknown_load_is_refused_in_words() -> None:
    globe = _cooling()
    stranger = factory.uid("no such load")
    answer = report(event_context=globe.event_context(), step_id=globe.step(30).pk, good=1, load=stranger)
    assert refused(answer).code == "unknown_load"
    reading = ReadingTold("cooling", "t", "20", "C", load=stranger)
    load = globe.put_in(1)
    answer = end_load(event_context=globe.event_context(), load_id=load.pk, readings=[reading])
    assert refused(answer).code == "unknown_load"
    negative = start_load(event_context=globe.event_context(), step_id=globe.step(30).pk, quantity=-1)
    assert refused(negative).code == "not_a_quantity"
