"""What blocks a step, sending, consuming and packing; what opens it again."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests import factory
from tests.globe import BORE, COOLING, TESTING, Globe, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.decide import decide
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.measure import measure
from traveller.batches.actions.report import report
from traveller.batches.actions.start_step import start_step
from traveller.batches.models import Verdict
from traveller.batches.proof import gates
from traveller.batches.proof.readings import ReadingTold
from traveller.ledger.models import Lot
from traveller.rules.purposes import Purpose

pytestmark = pytest.mark.django_db


def _blocks(globe: Globe, purpose: Purpose) -> list[tuple[int, str, str]]:
    return [(block.step, block.check, block.outcome) for block in gates.closed(globe.batch, purpose)]


def _bore(*values: str, unit: str = "in") -> list[ReadingTold]:
    return [ReadingTold("bore", "bore", value, unit) for value in values]


def test_what_stops_early_stops_all_that_comes_later() -> None:
    globe = make_globe(checks={30: (COOLING,), 40: (TESTING,), 50: (BORE,)})
    assert _blocks(globe, "start") == []
    assert _blocks(globe, "send") == [(30, "cooling", "missing")]
    assert _blocks(globe, "consume") == [(30, "cooling", "missing"), (40, "water", "missing")]
    assert _blocks(globe, "pack") == [
        (30, "cooling", "missing"),
        (40, "water", "missing"),
        (50, "bore", "missing"),
    ]


def test_each_gate_opens_with_its_own_proof() -> None:
    globe = make_globe(checks={30: (COOLING,), 40: (TESTING,), 50: (BORE,)})
    globe.report(20, 24)
    assert refused(globe.send(24)).code == "not_proved"
    globe.cooled((24, 15))
    assert _blocks(globe, "send") == []
    globe.moved(24)
    globe.report(40, 20)
    assert _blocks(globe, "consume") == [(40, "water", "missing")]
    globe.report(40, 3, scrap={"leak": 1})
    assert _blocks(globe, "consume") == []
    assert _blocks(globe, "pack") == [(50, "bore", "missing")]
    globe.report(50, 23, readings=_bore("1.998"))
    assert _blocks(globe, "pack") == []
    assert everything_agrees()


def test_missing_evidence_blocks_at_once_and_holds_when_the_step_is_done() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 48)
    globe.cooled((24, 15))
    globe.report(30, 24)  # counted without a load
    assert refused(globe.send(24)).figures["why_code"] == "loads.uncovered"
    assert globe.open_holds() == []
    globe.finish(30)
    (hold,) = globe.open_holds()
    assert (hold.cause, hold.code) == ("check:30:cooling", "loads.uncovered")
    assert (hold.figures["counted"], hold.figures["covered"]) == (48, 24)
    assert everything_agrees()


def test_a_hold_for_missing_evidence_lets_go_when_the_evidence_arrives() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 24)
    globe.report(30, 24, done=True)
    assert len(globe.open_holds()) == 1
    load = globe.put_in(24)
    assert len(globe.open_holds()) == 1
    globe.take_out(load, load.started_at + timedelta(minutes=15))
    assert globe.open_holds() == []
    ok(globe.send(24))
    assert everything_agrees()


def test_evidence_that_arrives_and_fails_is_the_founders_to_decide() -> None:
    globe = make_globe(checks={50: (BORE,)})
    globe.report(20, 24)
    globe.report(50, 24, done=True)
    assert [hold.code for hold in globe.open_holds()] == ["dimension.too_few"]
    ok(measure(event_context=globe.event_context(), step_id=globe.step(50).pk, readings=_bore("2.006")))
    ok(measure(event_context=globe.event_context(), step_id=globe.step(50).pk, readings=_bore("2.001")))
    (hold,) = globe.open_holds()
    assert hold.closed_at is None
    assert gates.closed(globe.batch, "pack")[0].code == "dimension.above"
    assert everything_agrees()


@pytest.mark.parametrize(
    ("value", "unit", "outcome"),
    [
        ("2.005", "in", "passed"),
        ("2.0051", "in", "failed"),
        ("1.995", "in", "passed"),
        ("50.927", "mm", "passed"),  # 2.005 in = 50.927 mm exactly
        ("50.928", "mm", "failed"),
        ("50.673", "mm", "passed"),
        ("50.672", "mm", "failed"),
    ],
)
def test_five_thousandths_of_an_inch_are_kept_to_the_last_decimal(value: str, unit: str, outcome: str) -> None:
    """Plus-minus 0.005 in = 0.127 mm: common practice, no source."""
    globe = make_globe(checks={50: (BORE,)})
    ok(measure(event_context=globe.event_context(), step_id=globe.step(50).pk, readings=_bore(value, unit=unit)))
    assert Verdict.objects.get(latest=True).outcome == outcome


def test_every_piece_must_be_tested_before_the_lot_may_be_used() -> None:
    globe = make_globe(checks={40: (TESTING,)})
    globe.report(20, 100)
    globe.report(30, 100)
    globe.moved(100)
    answer = globe.report(40, 60, scrap={"leak": 2})
    (verdict,) = answer.verdicts
    assert (verdict.outcome, verdict.code) == ("missing", "every_piece.not_finished")
    assert (verdict.figures["open"], verdict.figures["to_test"]) == (38, 100)
    answer = globe.report(40, 30, done=True)
    assert [hold.code for hold in answer.holds] == ["every_piece.unaccounted"]
    globe.report(40, 4, scrap={"before test": 1, "leak": 3})
    verdict = Verdict.objects.get(check_key="water", latest=True)
    assert (verdict.outcome, verdict.figures["tested"], verdict.figures["failed"]) == ("passed", 99, 5)
    assert globe.open_holds() == []
    assert everything_agrees()


def test_a_step_done_with_lost_pieces_leaves_nothing_untested() -> None:
    globe = make_globe(checks={40: (TESTING,)})
    globe.report(20, 100)
    globe.report(30, 100)
    globe.moved(100)
    globe.report(40, 95, scrap={"leak": 3})
    globe.finish(40, lost=2)
    assert globe.at(globe.bench, "unexplained", 40) == 2
    assert Verdict.objects.get(check_key="water", latest=True).outcome == "passed"
    assert globe.open_holds() == []
    assert everything_agrees()


def test_a_corrected_count_is_judged_anew() -> None:
    globe = make_globe(checks={40: (TESTING,)})
    globe.report(20, 100)
    globe.report(30, 100)
    globe.moved(100)
    wrong = globe.report(40, 100)
    assert gates.closed(globe.batch, "consume") == []
    ok(correct_count(event_context=globe.event_context(), event_id=wrong.event.pk, reason="ten to go", good=90))
    assert _blocks(globe, "consume") == [(40, "water", "missing")]
    assert everything_agrees()


def test_advice_blocks_nothing_and_holds_nothing() -> None:
    advice = factory.CheckRow(
        "drift", "reading", {"name": "weight", "least": "10", "most": "11", "unit": "g"}, blocks="nothing"
    )
    globe = make_globe(checks={20: (advice,)})
    answer = globe.report(20, 10, readings=[ReadingTold("drift", "weight", "12", "g")], done=True)
    assert [verdict.outcome for verdict in answer.verdicts] == ["failed"]
    assert globe.open_holds() == []
    assert _blocks(globe, "pack") == []


DWELL = factory.CheckRow("wait", "dwell", {"least": "30", "unit": "min"}, scope="step", blocks="sending")


def test_a_dwell_is_judged_when_the_end_before_is_told_last() -> None:
    """The oven's end reaches the server after the next step's start: the same verdict as in order."""
    globe = make_globe(checks={30: (DWELL,)})
    globe.report(20, 24)
    globe.report(30, 24, event_context=globe.event_context(factory.MONDAY + timedelta(hours=2)))
    assert _blocks(globe, "send") == [(30, "wait", "missing")]
    globe.report(20, 0, event_context=globe.event_context(factory.MONDAY + timedelta(hours=1)), done=True)
    assert _blocks(globe, "send") == []
    assert Verdict.objects.get(latest=True).figures["waited"] == "60"
    assert everything_agrees()


def test_a_dwell_counted_from_a_step_further_back_is_judged_when_that_end_is_told_last() -> None:
    """Moulded, cooled, then measured at the earliest an hour after moulding."""
    wait = factory.CheckRow("settle", "dwell", {"least": "60", "unit": "min", "after": "20"}, "step", "packing")
    globe = make_globe(checks={50: (wait,)})
    at = factory.MONDAY
    globe.report(20, 24)
    globe.report(30, 24, event_context=globe.event_context(at + timedelta(minutes=100)), done=True)
    globe.moved(24)
    globe.report(40, 24, event_context=globe.event_context(at + timedelta(minutes=110)), done=True)
    globe.report(50, 24, event_context=globe.event_context(at + timedelta(minutes=120)))
    assert _blocks(globe, "pack") == [(50, "settle", "missing")]
    globe.report(20, 0, event_context=globe.event_context(at + timedelta(minutes=60)), done=True)
    assert _blocks(globe, "pack") == []
    assert Verdict.objects.get(step=globe.step(50), latest=True).figures["waited"] == "60"
    assert everything_agrees()


def test_conceding_a_check_opens_its_gate_and_keeps_its_outcome() -> None:
    globe = make_globe(checks={30: (COOLING,)})
    globe.report(20, 24)
    globe.cooled((24, 9))
    assert refused(globe.send(24)).code == "held"
    (hold,) = globe.open_holds()
    answer = ok(
        decide(event_context=globe.event_context(), hold_id=hold.pk, disposition="concession", reason="bore is round")
    )
    row = Verdict.objects.get(load=None, latest=True)
    assert (row.outcome, row.conceded_event) == ("failed", answer.event)
    ok(globe.send(24))
    assert everything_agrees()


def _insert(globe: Globe, name: str) -> Lot:
    return factory.make_stock(globe.insert, globe.bench, 100, name=name)


def test_a_step_is_not_begun_with_components_that_are_all_held_and_news_of_it_is_taken() -> None:
    globe = make_globe(insert=True)
    lots = [_insert(globe, name) for name in ("one", "two")]
    step = globe.step(50).pk
    for lot in lots:
        ok(hold_lot(event_context=globe.event_context(), lot_id=lot.pk, reason="scratched"))
    refusal = refused(start_step(event_context=globe.event_context(), step_id=step))
    assert (refusal.code, refusal.figures["purpose"], refusal.figures["lot"]) == ("held", "consume", lots[0].code)
    ok(start_step(event_context=globe.event_context(), step_id=step, already=True))
    _insert(globe, "free")
    ok(start_step(event_context=globe.event_context(), step_id=step))


def test_a_step_is_not_begun_with_a_component_that_is_not_proved() -> None:
    bench = factory.make_bench()
    band, lamp = factory.make_part("BAND"), factory.make_part("LAMP")
    tested = factory.CheckRow("water", "every_piece", {"name": "water test"}, "piece", "consuming")
    ops = [factory.Op(10, bench, "mould", "make"), factory.Op(20, bench, "test", checks=(tested,))]
    factory.make_routing(band, ops)
    factory.make_bill(lamp, band, step=10)
    factory.make_routing(lamp, [factory.Op(10, bench, "assemble", "make")])
    bands, lamps = factory.make_batch(band), factory.make_batch(lamp)
    ok(report(event_context=factory.event_context(1), step_id=bands.steps.get(number=10).pk, good=100))
    ok(report(event_context=factory.event_context(2), step_id=bands.steps.get(number=20).pk, good=40))
    refusal = refused(start_step(event_context=factory.event_context(3), step_id=lamps.steps.get().pk))
    assert (refusal.code, refusal.figures["purpose"], refusal.figures["batch"]) == (
        "not_proved",
        "consume",
        bands.code,
    )
    ok(report(event_context=factory.event_context(4), step_id=bands.steps.get(number=20).pk, good=60))
    ok(start_step(event_context=factory.event_context(5), step_id=lamps.steps.get().pk))
