"""A batch is over when nothing of it lies anywhere; news can open it again."""

from __future__ import annotations

import pytest

from tests import factory as f
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.finish_step import finish_step
from traveller.batches.actions.report import report
from traveller.batches.answer import Answer
from traveller.batches.consume import Used
from traveller.batches.models import Batch, Step

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
    report(stamp=f.stamp(1), step_id=step_of(feet).pk, good=10, done=True)
    assert not closed(feet)
    lot = Batch.objects.get(pk=feet.pk).lot_id
    assert lot
    report(stamp=f.stamp(2), step_id=step_of(lanterns).pk, good=6, used=[Used(lot)])
    assert not closed(feet)
    report(stamp=f.stamp(3), step_id=step_of(lanterns).pk, good=4, used=[Used(lot)])
    assert closed(feet) and not closed(lanterns)


def test_a_batch_whose_making_is_not_done_stays_open_though_nothing_lies() -> None:
    feet, lanterns = two_batches()
    report(stamp=f.stamp(1), step_id=step_of(feet).pk, good=10)
    lot = Batch.objects.get(pk=feet.pk).lot_id
    assert lot
    report(stamp=f.stamp(2), step_id=step_of(lanterns).pk, good=10, used=[Used(lot)])
    assert not closed(feet)
    finish_step(stamp=f.stamp(3), step_id=step_of(feet).pk)
    assert closed(feet)


def test_a_correction_that_gives_pieces_back_opens_the_batch_again() -> None:
    feet, lanterns = two_batches()
    report(stamp=f.stamp(1), step_id=step_of(feet).pk, good=10, done=True)
    lot = Batch.objects.get(pk=feet.pk).lot_id
    assert lot
    used = report(stamp=f.stamp(2), step_id=step_of(lanterns).pk, good=10, used=[Used(lot)])
    assert isinstance(used, Answer) and closed(feet)
    correct_count(stamp=f.stamp(4), event_id=used.event.pk, reason="two were counted twice", good=8)
    assert not closed(feet)


def test_a_batch_without_a_good_piece_closes_when_its_making_is_done() -> None:
    feet, _ = two_batches()
    report(stamp=f.stamp(1), step_id=step_of(feet).pk, scrap={"short": 10}, done=True)
    assert closed(feet)
