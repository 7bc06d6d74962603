"""A wrong count is struck by a later event that names it, with a reason."""

from __future__ import annotations

import pytest

from tests.globe import everything_agrees, make_globe, ok, refused
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.models import Count
from traveller.ledger.models import Condition

pytestmark = pytest.mark.django_db


def test_a_correction_posts_the_difference_and_names_the_old_event() -> None:
    globe = make_globe()
    wrong = globe.report(20, 84, scrap={"short": 2})
    answer = ok(
        correct_count(
            event_context=globe.event_context(),
            event_id=wrong.event.pk,
            reason="typed 84 for 48",
            good=48,
            scrap={"dirty": 5},
        )
    )
    assert answer.event.corrects == wrong.event
    assert globe.lies() == {
        ("moulder", "made_from", 20): -53,
        ("moulder", "in_process", 30): 48,
        ("moulder", "scrap", 20): 5,
    }
    step = globe.step(20)
    assert (step.good, step.scrap) == (48, 5)
    assert Count.objects.get(event=answer.event).by_reason == {"dirty": 5, "short": -2}
    assert everything_agrees()


def test_a_correction_after_the_pieces_went_on_posts_the_net_and_leaves_the_shortfall_unexplained() -> None:
    globe = make_globe()
    globe.report(20, 100)
    wrong = globe.report(30, 100)
    ok(globe.send(95))
    ok(correct_count(event_context=globe.event_context(), event_id=wrong.event.pk, reason="recounted", good=90))
    # 5 were on the shelf still; the other 5 were sent on, so somebody must explain them.
    assert globe.lies() == {
        ("moulder", "made_from", 20): -100,
        ("moulder", "in_process", 30): 10,
        ("moulder", "on_the_road", 40): 95,
        ("moulder", "unexplained", 30): -5,
    }
    assert everything_agrees()


def test_a_count_that_did_not_occur_is_struck_whole() -> None:
    globe = make_globe()
    globe.report(20, 50)
    wrong = globe.report(20, 50)
    ok(correct_count(event_context=globe.event_context(), event_id=wrong.event.pk, reason="told twice"))
    assert (globe.step(20).good, globe.at(globe.moulder, Condition.IN_PROCESS, 30)) == (50, 50)
    assert everything_agrees()


def test_good_pieces_that_were_scrap_and_back_again() -> None:
    globe = make_globe()
    globe.report(20, 50)
    wrong = globe.report(30, 50)
    first = ok(
        correct_count(
            event_context=globe.event_context(), event_id=wrong.event.pk, reason="warped", good=40, scrap={"warped": 10}
        )
    )
    assert globe.at(globe.moulder, Condition.SCRAP, 30) == 10
    # A correction of the correction says again what the first count should have been.
    ok(correct_count(event_context=globe.event_context(), event_id=first.event.pk, reason="scrap found good", good=50))
    assert globe.lies() == {("moulder", "made_from", 20): -50, ("moulder", "stock", 30): 50}
    assert (globe.step(30).good, globe.step(30).scrap) == (50, 0)
    assert everything_agrees()


def test_a_correction_of_what_was_owed_pays_back_first() -> None:
    globe = make_globe()
    wrong = globe.report(30, 40)
    assert globe.at(globe.moulder, Condition.UNREPORTED, 30) == -40
    ok(
        correct_count(
            event_context=globe.event_context(), event_id=wrong.event.pk, reason="typed", good=30, scrap={"short": 4}
        )
    )
    assert globe.lies() == {
        ("moulder", "stock", 30): 30,
        ("moulder", "scrap", 30): 4,
        ("moulder", "unreported", 30): -34,
    }
    assert everything_agrees()


def test_a_correction_of_reworked_pieces_stays_apart() -> None:
    globe = make_globe()
    globe.report(20, 50)
    globe.report(30, 40, rework=10)
    wrong = globe.report(30, 10, again=True)
    ok(
        correct_count(
            event_context=globe.event_context(), event_id=wrong.event.pk, reason="one broke", good=9, scrap={"x": 1}
        )
    )
    step = globe.step(30)
    assert (step.good, step.rework, step.again_good, step.again_scrap) == (40, 10, 9, 1)
    assert globe.at(globe.moulder, Condition.REWORK, 30) == 0
    assert everything_agrees()


def test_a_correction_needs_a_reason_a_count_and_whole_figures() -> None:
    globe = make_globe()
    wrong = globe.report(20, 50)
    done = globe.finish(20)
    for reported, code in (
        ({"event_id": wrong.event.pk, "reason": " "}, "reason_needed"),
        ({"event_id": done.event.pk, "reason": "x"}, "nothing_to_correct"),
        ({"event_id": wrong.event.pk, "reason": "x", "good": -1}, "not_a_quantity"),
    ):
        answer = correct_count(event_context=globe.event_context(), **reported)  # type: ignore[arg-type]
        assert refused(answer).code == code


def test_a_correction_told_twice_is_one() -> None:
    globe = make_globe()
    wrong = globe.report(20, 50)
    event_context = globe.event_context()
    for repeated in (False, True):
        answer = ok(correct_count(event_context=event_context, event_id=wrong.event.pk, reason="x", good=45))
        assert answer.repeated is repeated
    assert globe.step(20).good == 45
