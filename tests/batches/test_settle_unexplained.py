"""The founder says where unexplained pieces went: what a shop could not find, what a correction left short."""

from __future__ import annotations

import pytest

from tests.globe import Globe, everything_agrees, make_globe, ok, refused
from traveller.batches.actions.correct_count import correct_count
from traveller.batches.actions.send import send
from traveller.batches.actions.settle_unexplained import settle_unexplained
from traveller.batches.models import Batch
from traveller.dispatches.actions.dispatch import SendLine
from traveller.ledger.models import Condition
from traveller.web.founder.work.arrivals import rests

pytestmark = pytest.mark.django_db


def _settle(globe: Globe, step: int, finding: str, reason: str = "asked", site: object = None) -> object:
    where = site or globe.bench
    return settle_unexplained(
        event_context=globe.event_context(),
        lot_id=globe.lot().pk,
        site_id=where.pk,  # type: ignore[attr-defined]
        step=step,
        finding=finding,  # type: ignore[arg-type]
        reason=reason,
    )


def _lost() -> Globe:
    """Eight pieces that the bench could not find at step 40."""
    globe = make_globe()
    globe.report(20, 100)
    globe.report(30, 100)
    globe.moved(100)
    globe.report(40, 92)
    globe.finish(40, lost=8)
    assert globe.at(globe.bench, Condition.UNEXPLAINED, 40) == 8
    return globe


def test_what_is_lost_becomes_scrap() -> None:
    globe = _lost()
    ok(_settle(globe, 40, "lost"))
    assert globe.at(globe.bench, Condition.UNEXPLAINED, 40) == 0
    assert globe.at(globe.bench, Condition.SCRAP, 40) == 8
    assert everything_agrees()


def test_what_is_found_waits_for_its_step_again() -> None:
    globe = _lost()
    ok(_settle(globe, 40, "found"))
    assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == 8
    globe.report(40, 8)
    assert everything_agrees()


def test_a_shortfall_of_a_correction_was_never_counted_when_made() -> None:
    globe = make_globe()
    counted = globe.report(20, 100).event
    globe.report(30, 100)
    globe.moved(100)
    ok(correct_count(event_context=globe.event_context(), event_id=counted.pk, good=95, reason="counted twice"))
    short = {key: value for key, value in globe.lies().items() if key[1] == "unexplained"}
    assert list(short.values()) == [-5]
    ((_site, _condition, step),) = short
    assert refused(_settle(globe, step, "lost", site=globe.moulder)).code == "finding_does_not_fit"
    ok(_settle(globe, step, "never_counted", site=globe.moulder))
    assert not [key for key in globe.lies() if key[1] == "unexplained"]
    assert everything_agrees()


def test_it_needs_a_reason_and_something_to_settle_and_is_told_once() -> None:
    globe = _lost()
    assert refused(_settle(globe, 40, "lost", reason=" ")).code == "reason_needed"
    event_context = globe.event_context()
    reported = {"lot_id": globe.lot().pk, "site_id": globe.bench.pk, "step": 40, "finding": "lost", "reason": "asked"}
    assert [ok(settle_unexplained(event_context=event_context, **reported)).repeated for _ in range(2)] == [False, True]  # type: ignore[arg-type]
    assert refused(_settle(globe, 40, "lost")).code == "nothing_unexplained"


def test_what_a_consignment_is_short_of_is_settled_with_the_consignment() -> None:
    globe = make_globe()
    globe.report(20, 100)
    globe.report(30, 100)
    globe.receive(ok(globe.send(100)), 93)
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 40) == 7
    assert refused(_settle(globe, 40, "lost", site=globe.moulder)).code == "nothing_unexplained"


def test_what_a_scale_cannot_tell_apart_is_no_rest_to_settle() -> None:
    globe = make_globe()
    globe.report(20, 400)
    globe.report(30, 400)
    line = SendLine(globe.lot().pk, 400, from_step=30, method="weight", sample=10)
    sent = send(
        event_context=globe.event_context(), lines=[line], origin_id=globe.moulder.pk, destination_id=globe.bench.pk
    )
    globe.receive(ok(sent), 398)
    assert globe.at(globe.moulder, Condition.UNEXPLAINED, 40) == 2
    assert refused(_settle(globe, 40, "lost", site=globe.moulder)).code == "nothing_unexplained"
    assert not rests()


def test_a_batch_whose_last_pieces_were_found_is_open_again() -> None:
    globe = _lost()
    globe.finish(20)
    globe.finish(30)
    globe.report(50, 92)
    batch = Batch.objects.get(pk=globe.batch.pk)
    ok(_settle(globe, 40, "found"))
    batch.refresh_from_db()
    assert batch.closed_at is None
    assert everything_agrees()
