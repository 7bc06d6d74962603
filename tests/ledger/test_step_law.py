"""in = good + scrap + rework + samples + still here + unexplained, with figures."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests import factory
from tests.globe import everything_agrees, make_globe, ok, refused
from traveller.batches.actions.reenter import reenter
from traveller.batches.history.step_law import step_accounts
from traveller.ledger.models import Condition

pytestmark = pytest.mark.django_db


def test_a_steps_pieces_are_all_accounted_for() -> None:
    """500 in: 430 good, 20 scrap, 15 rework, 5 samples, 3 lost; 27 are still here."""
    globe = make_globe()
    globe.report(20, 500)
    globe.report(30, 430, scrap={"short": 12, "warped": 8}, rework=15, samples=5)
    globe.finish(30, lost=3)
    step = globe.step(30)
    here = globe.at(globe.moulder, Condition.IN_PROCESS, 30)
    unexplained = globe.at(globe.moulder, Condition.UNEXPLAINED, 30)
    assert (step.good, step.scrap, step.rework, step.samples, here, unexplained) == (430, 20, 15, 5, 27, 3)
    assert 430 + 20 + 15 + 5 + 27 + 3 == 500
    assert globe.at(globe.moulder, Condition.SCRAP, 30) == 20
    assert globe.at(globe.moulder, Condition.SAMPLES, 30) == 5
    assert globe.at(globe.moulder, Condition.REWORK, 30) == 15
    assert everything_agrees()


def test_more_lost_than_arrived_is_news_too_and_stays_owed() -> None:
    globe = make_globe()
    globe.report(20, 10)
    globe.finish(30, lost=12)
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 30) == 12
    assert globe.at(globe.moulder, Condition.UNREPORTED, 30) == -2
    globe.report(20, 2)
    assert globe.at(globe.moulder, Condition.UNREPORTED, 30) == 0
    assert everything_agrees()


def test_part_of_a_lot_sent_ahead_is_the_same_lot_in_two_places() -> None:
    globe = make_globe()
    globe.report(20, 500)
    globe.report(30, 500)
    first = ok(globe.send(300))
    globe.receive(first, 300)
    ok(globe.send(150))
    assert globe.lies() == {
        ("moulder", "made_from", 20): -500,
        ("moulder", "stock", 30): 50,
        ("moulder", "on_the_road", 40): 150,
        ("bench", "in_process", 40): 300,
    }
    assert globe.children() == []
    assert refused(globe.send(51)).figures["there"] == 50
    assert everything_agrees()


def test_rework_reenters_apart_and_first_pass_yield_counts_first_entries_only() -> None:
    """100 arrive: 90 good, 4 scrap, 6 to rework (first pass 90 %); 5 of the 6 pass again, 1 is scrapped."""
    globe = make_globe()
    globe.report(20, 100)
    globe.report(30, 100)
    globe.moved(100)
    globe.report(40, 90, scrap={"leak": 4}, rework=6)
    assert globe.at(globe.bench, Condition.REWORK, 40) == 6
    globe.report(40, 5, scrap={"leak": 1}, again=True)
    step = globe.step(40)
    assert (step.good, step.scrap, step.rework) == (90, 4, 6)
    assert (step.again_good, step.again_scrap) == (5, 1)
    # Reworked pieces stay apart until they are through this site.
    assert globe.at(globe.bench, Condition.IN_PROCESS, 50) == 90
    assert globe.at(globe.bench, Condition.REWORK, 50) == 5
    globe.report(50, 90)
    globe.report(50, 5, again=True)
    assert globe.at(globe.bench, Condition.STOCK) == 95
    law = {row.step.number: row for row in step_accounts(globe.batch, [globe.step(40)])}[40]
    assert law.first_pass == Fraction(90, 100)
    assert everything_agrees()


def test_rework_told_while_a_step_owes_does_not_pay_for_first_entries() -> None:
    """30 tells 10 good and 5 to rework before 20 has told any: 15 are owed, and 5 lie in rework."""
    globe = make_globe()
    globe.report(30, 10, rework=5)
    assert globe.at(globe.moulder, Condition.UNREPORTED, 30) == -15
    assert globe.at(globe.moulder, Condition.REWORK, 30) == 5
    globe.report(20, 15)
    assert globe.at(globe.moulder, Condition.UNREPORTED, 30) == 0
    assert globe.at(globe.moulder, Condition.IN_PROCESS, 30) == 0
    assert everything_agrees()


def test_what_came_out_of_rework_before_it_was_told_to_go_in_is_owed_apart() -> None:
    globe = make_globe()
    globe.report(20, 20)
    globe.report(30, 4, again=True)
    assert globe.at(globe.moulder, Condition.UNREPORTED_REWORK, 30) == -4
    globe.report(30, 15, rework=5)
    assert globe.at(globe.moulder, Condition.UNREPORTED_REWORK, 30) == 0
    assert globe.at(globe.moulder, Condition.REWORK, 30) == 1
    assert globe.at(globe.moulder, Condition.STOCK, 30) == 19
    assert everything_agrees()


def test_rework_goes_back_to_an_earlier_step_of_the_site() -> None:
    globe = make_globe()
    globe.report(20, 100)
    globe.report(30, 100)
    globe.moved(100)
    globe.report(40, 100)
    globe.report(50, 90, rework=10)
    ok(reenter(event_context=globe.event_context(), step_id=globe.step(50).pk, to_step=40, quantity=10))
    assert globe.at(globe.bench, Condition.REWORK, 40) == 10
    globe.report(40, 10, again=True)
    globe.report(50, 10, again=True)
    assert globe.at(globe.bench, Condition.STOCK) == 100
    assert (globe.step(40).good, globe.step(40).again_good) == (100, 10)
    for refusal, code in (
        (
            reenter(event_context=globe.event_context(), step_id=globe.step(50).pk, to_step=60, quantity=1),
            "no_such_step",
        ),
        (
            reenter(event_context=globe.event_context(), step_id=globe.step(50).pk, to_step=30, quantity=1),
            "send_back_first",
        ),
        (
            reenter(event_context=globe.event_context(), step_id=globe.step(50).pk, to_step=40, quantity=0),
            "not_a_quantity",
        ),
        (reenter(event_context=globe.event_context(), step_id=globe.step(50).pk, to_step=40, quantity=1), "short"),
    ):
        assert refused(refusal).code == code
    assert everything_agrees()


def test_a_count_of_nothing_moves_nothing() -> None:
    globe = make_globe()
    globe.report(20, 0)
    assert globe.step(20).state == "running"
    globe.batch.refresh_from_db()
    assert globe.batch.lot is None
    assert everything_agrees()


def test_whole_quantities_beyond_reason_are_refused() -> None:
    globe = make_globe()
    from traveller.batches.actions.report import report

    for figures in ({"good": -1}, {"good": 2_000_000_001}, {"scrap": {"short": -2}}, {"shots": -3}):
        answer = report(event_context=globe.event_context(), step_id=globe.step(20).pk, **figures)
        assert refused(answer).code == "not_a_quantity"
    assert factory.sums_to_zero()
