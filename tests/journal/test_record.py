"""The same telling twice is one event; the same id with other words is not."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from tests import factory
from tests.globe import make_globe, ok, refused
from traveller.batches.actions.report import report
from traveller.batches.models import Count
from traveller.journal.models import Event
from traveller.journal.record import digest
from traveller.ledger.models import Posting

pytestmark = pytest.mark.django_db


def test_the_same_id_twice_is_one_event_and_the_same_answer() -> None:
    globe = make_globe()
    event_context = globe.event_context()
    first = globe.report(20, 60, scrap={"short": 3}, event_context=event_context)
    again = globe.report(20, 60, scrap={"short": 3}, event_context=event_context)
    assert (first.event, first.repeated) == (again.event, False)
    assert again.repeated
    assert globe.step(20).good == 60
    assert Count.objects.count() == 1
    assert Posting.objects.filter(event=first.event).count() == 3


def test_a_retry_heard_later_is_still_the_same_telling() -> None:
    globe = make_globe()
    event_context = globe.event_context()
    first = globe.report(20, 60, event_context=event_context)
    later = replace(event_context, recorded_at=event_context.recorded_at + timedelta(hours=3))
    assert globe.report(20, 60, event_context=later).event == first.event


def test_the_same_id_with_other_data_is_refused_and_changes_nothing() -> None:
    globe = make_globe()
    event_context = globe.event_context()
    globe.report(20, 60, event_context=event_context)
    refusal = refused(report(event_context=event_context, step_id=globe.step(20).pk, good=61))
    assert refusal.code == "told_otherwise"
    assert refusal.figures["kind"] == "counted"
    assert globe.step(20).good == 60


def test_the_same_id_for_another_kind_of_news_is_refused() -> None:
    globe = make_globe()
    event_context = globe.event_context()
    globe.report(20, 60, event_context=event_context)
    from traveller.batches.actions.finish_step import finish_step

    assert refused(finish_step(event_context=event_context, step_id=globe.step(20).pk)).code == "told_otherwise"


def test_a_refused_request_leaves_no_event_behind() -> None:
    globe = make_globe()
    before = Event.objects.count()
    assert (
        refused(report(event_context=globe.event_context(), step_id=globe.step(20).pk, good=-1)).code
        == "not_a_quantity"
    )
    assert Event.objects.count() == before


def test_a_digest_changes_with_everything_an_event_says() -> None:
    event = factory.make_event("digest")
    assert digest(event) == event.digest
    event.refresh_from_db()
    assert digest(event) == event.digest
    for name, value in (
        ("kind", "counted"),
        ("person", "Nobody"),
        ("on_behalf", True),
        ("phone", "7K3M9QA7K3M9QA00"),
        ("happened_at", event.happened_at + timedelta(microseconds=1)),
        ("recorded_at", event.recorded_at + timedelta(minutes=1)),
        ("device_offset_ms", 40),
        ("data", {"told": {"good": 1}}),
    ):
        changed = Event.objects.get(pk=event.pk)
        setattr(changed, name, value)
        assert digest(changed) != event.digest, name


def test_a_stamp_without_a_zone_is_a_fault() -> None:
    naive = datetime(2026, 3, 2, 8, 0)  # noqa: DTZ001
    with pytest.raises(ValueError, match="zone"):
        replace(factory.event_context(1), at=naive)


def test_an_unknown_kind_of_event_is_a_fault() -> None:
    with pytest.raises(KeyError):
        factory.make_event("x", kind="something else")


def test_a_derived_stamp_is_the_same_for_the_same_retry() -> None:
    event_context = factory.event_context(1)
    assert event_context.derived("judged:0") == event_context.derived("judged:0")
    assert event_context.derived("judged:0").uid != event_context.derived("judged:1").uid
    assert ok(event_context.derived("x")).at == event_context.at
