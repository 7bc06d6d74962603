"""Scrap found good comes back by an event of its own, and is asked again."""

from __future__ import annotations

import pytest

from tests.globe import TESTING, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.found_good import found_good
from traveller.batches.models import Batch, StepState, Verdict
from traveller.ledger.models import Condition

pytestmark = pytest.mark.django_db


def test_scrap_found_good_waits_at_its_step_apart_from_first_entries() -> None:
    globe = make_globe(checks={40: (TESTING,)})
    globe.report(20, 40)
    globe.report(30, 40)
    globe.moved(40)
    globe.report(40, 36, scrap={"leak": 4}, done=True)
    answer = ok(
        found_good(
            event_context=globe.event_context(), step_id=globe.step(40).pk, quantity=3, reason="the gauge was dirty"
        )
    )
    assert answer.event.kind == "scrap found good"
    step = globe.step(40)
    assert (step.state, step.done_at, step.scrap) == (StepState.RUNNING, None, 4)
    assert globe.at(globe.bench, Condition.REWORK, 40) == 3
    assert globe.at(globe.bench, Condition.SCRAP, 40) == 1
    globe.report(40, 2, scrap={"leak": 1}, again=True, done=True)
    assert (globe.step(40).again_good, globe.step(40).again_scrap) == (2, 1)
    verdict = Verdict.objects.get(step=globe.step(40), load=None, latest=True)
    assert verdict.figures.get("retested", 3) == 3
    assert everything_agrees()


def test_a_closed_batch_opens_again_for_what_was_found_good() -> None:
    globe = make_globe()
    globe.report(20, 0, scrap={"short": 5}, done=True)
    assert Batch.objects.get(pk=globe.batch.pk).closed_at is not None
    ok(found_good(event_context=globe.event_context(), step_id=globe.step(20).pk, quantity=5, reason="only flash"))
    assert Batch.objects.get(pk=globe.batch.pk).closed_at is None
    globe.report(20, 5, again=True, done=True)
    assert globe.at(globe.moulder, Condition.REWORK, 30) == 5
    assert everything_agrees()


def test_no_more_comes_back_than_was_scrapped_and_never_without_a_reason() -> None:
    globe = make_globe()
    globe.report(20, 5, scrap={"short": 2})
    step = globe.step(20).pk
    assert (
        refused(found_good(event_context=globe.event_context(), step_id=step, quantity=3, reason="x")).code
        == "more_than_scrap"
    )
    assert (
        refused(found_good(event_context=globe.event_context(), step_id=step, quantity=1, reason="")).code
        == "reason_needed"
    )
    other = globe.step(30).pk
    assert (
        refused(found_good(event_context=globe.event_context(), step_id=other, quantity=1, reason="x")).code
        == "no_scrap_there"
    )
