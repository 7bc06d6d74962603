"""One cavity blocked in mid-run: pieces = sum of shots x cavities open at that time; the first piece is asked again."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests import factory
from tests.globe import everything_agrees, make_globe, ok, refused
from traveller.batches.actions.set_cavities import set_cavities
from traveller.batches.actions.undo import undo
from traveller.batches.steps.shots import runs_since_count

pytestmark = pytest.mark.django_db


def test_shots_are_kept_with_the_cavities_open_at_that_time_until_they_are_counted() -> None:
    globe = make_globe()
    globe.report(20, 200, shots=100)
    ok(
        set_cavities(
            event_context=globe.event_context(),
            step_id=globe.step(20).pk,
            open_cavities=1,
            shots=30,
            reason="gate torn",
        )
    )
    assert globe.step(20).open_cavities == 1
    assert runs_since_count(globe.step(20)) == [(30, 2)]
    ok(
        set_cavities(
            event_context=globe.event_context(), step_id=globe.step(20).pk, open_cavities=2, shots=40, reason="mended"
        )
    )
    assert runs_since_count(globe.step(20)) == [(30, 2), (40, 1)]
    globe.report(20, 118, scrap={"short": 2}, shots=80)
    assert runs_since_count(globe.step(20)) == []
    # 100 and 80 with the counts, 30 and 40 with the changes: the tool has done all of them.
    assert globe.step(20).shots == 250
    assert everything_agrees()


def test_a_mould_has_its_number_of_cavities_and_one_at_least_is_open() -> None:
    globe = make_globe()
    step = globe.step(20).pk
    for wrong in (0, 3):
        answer = set_cavities(event_context=globe.event_context(), step_id=step, open_cavities=wrong)
        assert refused(answer).code == "cavities_out_of_range"
    assert (
        refused(set_cavities(event_context=globe.event_context(), step_id=globe.step(30).pk, open_cavities=1)).code
        == "no_cavities"
    )


def test_a_cavity_blocked_by_mistake_is_open_again() -> None:
    globe = make_globe()
    wrong = ok(set_cavities(event_context=globe.event_context(), step_id=globe.step(20).pk, open_cavities=1, shots=7))
    event_context = globe.event_context(wrong.event.recorded_at + timedelta(minutes=1))
    ok(undo(event_context=replace(event_context, actor=factory.operator(globe.moulder)), event_id=wrong.event.pk))
    assert globe.step(20).open_cavities == 2
    assert runs_since_count(globe.step(20)) == []
    assert globe.step(20).shots == 0
    assert everything_agrees()
