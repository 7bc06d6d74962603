"""The founder decides what happens to a held lot."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests import factory
from tests.globe import COOLING, TESTING, Globe, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.decide import decide
from traveller.batches.actions.send import send
from traveller.batches.models import Load, Verdict
from traveller.batches.proof import gates
from traveller.dispatches.actions.dispatch import SendLine
from traveller.ledger import holds
from traveller.ledger.models import Condition, Hold

pytestmark = pytest.mark.django_db


def _failed(pieces: int = 24) -> tuple[Globe, Hold]:
    """One load of the whole lot, cooled nine minutes."""
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, pieces)
    globe.cooled((pieces, 9))
    (hold,) = globe.open_holds()
    return globe, hold


def _decide(globe: Globe, hold: Hold, disposition: str, **reported: object) -> object:
    event_context, reason = (
        reported.pop("event_context", None) or globe.event_context(),
        reported.pop("reason", "looked at it"),
    )
    return decide(event_context=event_context, hold_id=hold.pk, disposition=disposition, reason=reason, **reported)  # type: ignore[arg-type]


def test_scrap_takes_every_piece_of_the_lot_wherever_it_lies() -> None:
    globe, hold = _failed()
    ok(_decide(globe, hold, "scrap"))
    assert globe.lies() == {("moulder", "made_from", 20): -24, ("moulder", "scrap", 30): 24}
    assert globe.open_holds() == []
    assert everything_agrees()


def test_a_scrapped_lot_is_not_held_again_for_the_same_reason_until_there_is_more_of_it() -> None:
    globe, hold = _failed()
    ok(_decide(globe, hold, "scrap"))
    globe.finish(30)
    assert globe.open_holds() == []
    globe.report(20, 5)
    globe.report(30, 5)
    assert len(globe.open_holds()) == 1
    assert everything_agrees()


def test_rework_strikes_the_evidence_and_the_step_is_done_again() -> None:
    globe, hold = _failed()
    ok(_decide(globe, hold, "rework", to_step=30))
    assert globe.lies() == {("moulder", "made_from", 20): -24, ("moulder", "rework", 30): 24}
    assert not Load.objects.filter(struck_by=None).exists()
    assert [block.code for block in gates.closed(globe.batch, "send")] == ["nothing_recorded"]
    assert globe.step(30).state == "running"
    load = globe.cool(24, 16)
    assert load.number == 2
    globe.report(30, 22, scrap={"warped": 2}, again=True, load=load.uid, done=True)
    assert gates.closed(globe.batch, "send") == []
    assert (globe.step(30).good, globe.step(30).again_good, globe.step(30).again_scrap) == (24, 22, 2)
    ok(globe.send(22))
    assert everything_agrees()


def test_reworked_pieces_that_fail_again_are_held_again() -> None:
    globe, hold = _failed()
    ok(_decide(globe, hold, "rework", to_step=30))
    load = globe.cool(24, 8)
    globe.report(30, 24, again=True, load=load.uid)
    (second,) = globe.open_holds()
    assert second != hold
    assert second.figures["lasted"] == "8"
    assert everything_agrees()


def test_fewer_pieces_after_rework_are_covered_by_the_new_loads() -> None:
    """Two were scrapped meanwhile: the new load need not cover those 2."""
    globe, hold = _failed()
    ok(_decide(globe, hold, "rework", to_step=30))
    globe.report(30, 0, scrap={"warped": 2}, again=True)
    load = globe.cool(24, 15)
    globe.report(30, 22, again=True, load=load.uid, done=True)
    assert gates.closed(globe.batch, "send") == []
    assert globe.open_holds() == []


def test_pieces_that_went_on_come_back_for_rework_at_the_shop_they_left() -> None:
    """Found too short only after the goods had arrived: returned, though held, and cooled again."""
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 24)
    load = globe.cool(24, 15)
    globe.report(30, 24, load=load.uid)
    globe.moved(24)
    globe.take_out(load, load.started_at + timedelta(minutes=9), late_reason="wrong clock")
    (hold,) = globe.open_holds()
    assert refused(_decide(globe, hold, "rework", to_step=30)).code == "send_back_first"
    back = SendLine(globe.lot().pk, 24, from_step=40, condition=Condition.IN_PROCESS)

    def give_back(line: SendLine, purpose: str) -> object:
        ends = (globe.bench.pk, globe.moulder.pk)
        return send(
            event_context=globe.event_context(),
            origin_id=ends[0],
            destination_id=ends[1],
            lines=[line],
            purpose=purpose,
            note="too short",
        )

    assert refused(give_back(back, "return")).code == "return_needs_a_step"
    assert refused(give_back(back, "processing")).code == "wrong_destination"
    to_cooling = SendLine(globe.lot().pk, 24, from_step=40, to_step=30, condition=Condition.IN_PROCESS)
    consignment = ok(give_back(to_cooling, "return"))
    assert refused(_decide(globe, hold, "rework", to_step=30)).code == "still_on_the_road"
    assert refused(_decide(globe, hold, "scrap")).code == "still_on_the_road"
    globe.receive(consignment, 24)  # type: ignore[arg-type]
    ok(_decide(globe, hold, "rework", to_step=30))
    assert globe.at(globe.moulder, Condition.REWORK, 30) == 24
    again = globe.cool(24, 15)
    globe.report(30, 24, again=True, load=again.uid)
    ok(globe.send(24))
    assert everything_agrees()


def test_a_concession_covers_what_was_known_and_not_the_next_failure() -> None:
    globe, hold = _failed(24)
    ok(_decide(globe, hold, "concession"))
    globe.report(20, 24)
    assert globe.open_holds() == []
    globe.cool(24, 10)
    (child,) = globe.children()
    assert [row.figures["lasted"] for row in globe.open_holds(child)] == ["10"]
    assert globe.open_holds() == []
    assert everything_agrees()


def test_a_check_needs_a_concession_and_a_founders_hold_a_release() -> None:
    globe, hold = _failed()
    assert refused(_decide(globe, hold, "release")).code == "release_needs_concession"
    own = holds.open_hold(factory.make_event("own"), globe.lot(), cause="held", code="held")
    ok(_decide(globe, own, "release"))
    assert [row.pk for row in globe.open_holds()] == [hold.pk]


def test_what_passes_after_it_failed_may_be_released_but_never_lets_go_by_itself() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 24)
    load = globe.cool(24, 9)
    globe.take_out(load, load.started_at + timedelta(minutes=16), late_reason="tapped the wrong load")
    assert Verdict.objects.get(load=None, latest=True).outcome == "passed"
    (hold,) = globe.open_holds()
    ok(_decide(globe, hold, "release", reason="the clock on the wall says 16"))
    assert globe.open_holds() == []
    assert everything_agrees()


def test_a_decision_needs_a_reason_an_open_hold_and_the_root() -> None:
    globe, hold = _failed()
    assert refused(_decide(globe, hold, "scrap", reason="  ")).code == "reason_needed"
    other = factory.make_stock(globe.part, globe.bench, 5)
    holds.inherit(factory.make_event("child"), other, [globe.lot().pk])
    (inherited,) = Hold.objects.filter(lot=other)
    answer = refused(_decide(globe, inherited, "concession"))
    assert (answer.code, answer.figures["lot"]) == ("inherited_hold", globe.lot().code)
    assert refused(_decide(globe, hold, "rework", to_step=31)).code == "no_such_step"
    assert refused(_decide(globe, hold, "rework")).code == "no_such_step"
    ok(_decide(globe, hold, "concession"))
    assert refused(_decide(globe, hold, "scrap")).code == "already_decided"


def test_a_bought_lot_cannot_be_reworked_but_scrapped() -> None:
    bench = factory.make_bench()
    lot = factory.make_stock(factory.make_part("PUCK", "bought"), bench, 40)
    hold = holds.open_hold(factory.make_event("h"), lot, cause="held", code="held")
    reported = {"hold_id": hold.pk, "reason": "rusty"}
    refusal = decide(event_context=factory.event_context(1), disposition="rework", to_step=10, **reported)  # type: ignore[arg-type]
    assert refused(refusal).code == "rework_needs_a_batch"
    ok(decide(event_context=factory.event_context(2), disposition="scrap", **reported))  # type: ignore[arg-type]
    assert factory.balance(lot, bench, Condition.SCRAP) == 40


def test_what_was_made_of_a_scrapped_lot_waits_for_a_decision_of_its_own() -> None:
    globe = make_globe(insert=True)
    globe.report(20, 10)
    inserts = factory.make_stock(globe.insert, globe.bench, 100)
    globe.report(50, 10)
    hold = holds.open_hold(factory.make_event("h"), inserts, cause="held", code="held")
    ok(_decide(globe, hold, "scrap"))
    (own,) = globe.open_holds()
    ok(_decide(globe, own, "concession", reason="these were good ones"))
    assert globe.open_holds() == []
    assert everything_agrees()


def test_a_decision_told_twice_is_one() -> None:
    globe, hold = _failed()
    event_context = globe.event_context()
    for repeated in (False, True):
        answer = ok(decide(event_context=event_context, hold_id=hold.pk, disposition="concession", reason="x"))
        assert answer.repeated is repeated


def test_the_test_of_every_piece_holds_after_rework_until_all_are_tested() -> None:
    globe = make_globe(checks={40: (TESTING,)})
    globe.report(20, 50)
    globe.report(30, 50)
    globe.moved(50)
    globe.report(40, 45, done=True)
    (hold,) = globe.open_holds()
    assert hold.code == "every_piece.unaccounted"
    globe.report(40, 0, scrap={"leak": 5})
    assert globe.open_holds() == []
    assert everything_agrees()
