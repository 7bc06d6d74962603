"""A batch is over when nothing of it lies anywhere; news can open it again."""

from __future__ import annotations

import pytest

from tests import factory as f
from tests.globe import Globe, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.finish_step import finish_step
from traveller.batches.actions.receive import arrived_unannounced
from traveller.batches.actions.report import report
from traveller.batches.actions.settle_difference import settle_difference
from traveller.batches.models import Batch, Step
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.consume import Used
from traveller.dispatches.models import ConsignmentLine

pytestmark = pytest.mark.django_db


def two_batches() -> tuple[Batch, Batch]:
    """Ten feet, of which ten lanterns are made, at one bench."""
    bench = f.make_bench()
    foot, lantern = f.make_part("FOOT"), f.make_part("LANTERN")
    f.make_routing(foot, [f.Op(10, bench, "mould", "make")])
    f.make_routing(lantern, [f.Op(10, bench, "assemble", "make")])
    f.make_bill(lantern, foot, each=1, step=10)
    return f.make_batch(foot, wanted=10), f.make_batch(lantern, wanted=10)


def step_of(batch: Batch) -> Step:
    return Step.objects.get(batch=batch, number=10)


def closed(batch: Batch) -> bool:
    return Batch.objects.get(pk=batch.pk).closed_at is not None


def test_a_component_batch_closes_when_its_last_piece_is_used() -> None:
    feet, lanterns = two_batches()
    report(event_context=f.event_context(1), step_id=step_of(feet).pk, good=10, done=True)
    assert not closed(feet)
    lot = Batch.objects.get(pk=feet.pk).lot_id
    assert lot
    report(event_context=f.event_context(2), step_id=step_of(lanterns).pk, good=6, used=[Used(lot)])
    assert not closed(feet)
    report(event_context=f.event_context(3), step_id=step_of(lanterns).pk, good=4, used=[Used(lot)])
    assert closed(feet) and not closed(lanterns)


def test_a_batch_whose_making_is_not_done_stays_open_though_nothing_lies() -> None:
    feet, lanterns = two_batches()
    report(event_context=f.event_context(1), step_id=step_of(feet).pk, good=10)
    lot = Batch.objects.get(pk=feet.pk).lot_id
    assert lot
    report(event_context=f.event_context(2), step_id=step_of(lanterns).pk, good=10, used=[Used(lot)])
    assert not closed(feet)
    finish_step(event_context=f.event_context(3), step_id=step_of(feet).pk)
    assert closed(feet)


def test_a_correction_that_gives_pieces_back_opens_the_batch_again() -> None:
    feet, lanterns = two_batches()
    report(event_context=f.event_context(1), step_id=step_of(feet).pk, good=10, done=True)
    lot = Batch.objects.get(pk=feet.pk).lot_id
    assert lot
    used = report(event_context=f.event_context(2), step_id=step_of(lanterns).pk, good=10, used=[Used(lot)])
    assert isinstance(used, Answer) and closed(feet)
    correct_count(event_context=f.event_context(4), event_id=used.event.pk, reason="two were counted twice", good=8)
    assert not closed(feet)


def test_a_batch_without_a_good_piece_closes_when_its_making_is_done() -> None:
    feet, _ = two_batches()
    report(event_context=f.event_context(1), step_id=step_of(feet).pk, scrap={"short": 10}, done=True)
    assert closed(feet)


def short_by(globe: Globe, pieces: int, sent: int = 40) -> ConsignmentLine:
    """A batch of which so many got lost between two shops; the others were tested and scrapped to the last."""
    globe.report(20, sent, done=True)
    globe.report(30, sent, done=True)
    line = globe.receive(ok(globe.send(sent)), sent - pieces).line
    if sent > pieces:
        globe.report(40, scrap={"leak": sent - pieces})
    return line


@pytest.mark.parametrize("pieces", [3, 40])
def test_a_batch_of_which_pieces_are_missing_stays_open_until_they_are_known_to_be_lost(pieces: int) -> None:
    globe = make_globe(start=40)
    line = short_by(globe, pieces)
    assert not closed(globe.batch)
    assert everything_agrees()
    ok(
        settle_difference(
            event_context=globe.event_context(), line_id=line.pk, finding="lost", reason="fell off the van"
        )
    )
    assert closed(globe.batch)
    assert everything_agrees()


def test_missing_pieces_that_were_at_the_sender_keep_their_batch_open_until_they_are_gone_too() -> None:
    globe = make_globe(start=40)
    line = short_by(globe, 3)
    ok(
        settle_difference(
            event_context=globe.event_context(), line_id=line.pk, finding="at_sender", reason="behind the press"
        )
    )
    assert not closed(globe.batch)
    globe.moved(3)
    globe.report(40, scrap={"leak": 3})
    assert closed(globe.batch)
    assert everything_agrees()


def test_a_batch_closed_behind_the_back_of_a_difference_is_opened_by_its_settlement() -> None:
    globe = make_globe(start=40)
    line = short_by(globe, 3)
    Batch.objects.filter(pk=globe.batch.pk).update(closed_at=f.MONDAY)
    ok(
        settle_difference(
            event_context=globe.event_context(), line_id=line.pk, finding="at_sender", reason="behind the press"
        )
    )
    assert not closed(globe.batch)


def test_a_refused_settlement_changes_nothing() -> None:
    globe = make_globe(start=40)
    line = short_by(globe, 3)
    before = globe.lies()
    answer = settle_difference(event_context=globe.event_context(), line_id=line.pk, finding="lost", reason=" ")
    assert refused(answer).code == "reason_needed"
    assert (globe.lies(), closed(globe.batch)) == (before, False)


def test_pieces_used_up_before_their_arrival_was_told_close_their_batch_when_it_is_told() -> None:
    globe = make_globe(start=40)
    globe.report(20, 40, done=True)
    globe.report(30, 40, done=True)
    sent = ok(globe.send(40))
    globe.report(40, scrap={"leak": 40})
    assert not closed(globe.batch)
    globe.receive(sent, 40)
    assert closed(globe.batch)
    assert everything_agrees()


def test_pieces_used_up_before_their_sending_was_told_close_their_batch_when_it_is_told() -> None:
    globe = make_globe(start=40)
    globe.report(20, 40, done=True)
    globe.report(30, 40, done=True)
    globe.report(40, scrap={"leak": 40})
    lot = globe.lot().pk
    ok(arrived_unannounced(event_context=globe.event_context(), site_id=globe.bench.pk, lot_id=lot, quantity=40))
    assert not closed(globe.batch)
    ok(globe.send(40))
    assert closed(globe.batch)
    assert everything_agrees()


def test_a_batch_that_never_had_a_piece_closes_with_its_last_step() -> None:
    globe = make_globe(start=40)
    for number in (20, 30, 40):
        globe.finish(number)
        assert not closed(globe.batch)
    globe.finish(50)
    assert closed(globe.batch)
    assert everything_agrees()
