"""A clock behind the newest record is known, until somebody has said which of the two was wrong."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from sites.actor import Actor
from traveller.journal import clock
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 29, 12, tzinfo=UTC)
DAY = timedelta(days=1)


def event_context(at: datetime) -> EventContext:
    return EventContext(uid=uuid4(), at=at, recorded_at=at, actor=Actor("founder", "Ann"))


def jump(at: datetime, seconds: int = 7200) -> Event:
    event = clock.jumped(event_context=event_context(at), seconds=seconds, machine="box")
    assert isinstance(event, Event)
    return event


def test_in_an_empty_journal_no_clock_is_behind() -> None:
    assert (clock.newest(), clock.behind(NOW)) == (None, None)


def test_a_clock_is_behind_by_more_than_a_minute_or_not_at_all() -> None:
    jump(NOW)
    assert clock.behind(NOW - timedelta(seconds=60)) is None
    assert clock.behind(NOW - timedelta(seconds=61)) == NOW
    assert clock.behind(NOW + DAY) is None


def test_the_newest_record_counts_and_not_the_last_one() -> None:
    jump(NOW)
    jump(NOW - 40 * DAY)
    assert clock.behind(NOW - DAY) == NOW


def test_what_was_said_of_a_clock_is_recorded_and_not_asked_again() -> None:
    jump(NOW + 365 * DAY)
    assert clock.behind(NOW) == NOW + 365 * DAY
    said = clock.was_wrong(event_context=event_context(NOW), reason=" the battery was flat ")
    assert isinstance(said, Event)
    assert (said.person, said.recorded_at, said.data["told"]["reason"]) == ("Ann", NOW, "the battery was flat")
    assert said.data["newest"] == (NOW + 365 * DAY).isoformat()
    assert clock.behind(NOW) is None


def test_the_next_jump_is_asked_about_again() -> None:
    jump(NOW + 365 * DAY)
    clock.was_wrong(event_context=event_context(NOW), reason="the battery was flat")
    assert clock.behind(NOW - DAY) == NOW
    jump(NOW + 2 * DAY)
    assert clock.behind(NOW + DAY) == NOW + 2 * DAY


def test_without_a_reason_nothing_is_recorded() -> None:
    answer = clock.was_wrong(event_context=event_context(NOW), reason="  ")
    assert isinstance(answer, Refusal) and answer.code == "reason_needed"
    assert not Event.objects.exists()


def test_the_same_jump_told_again_is_one_jump() -> None:
    once = event_context(NOW)
    for _ in range(2):
        clock.jumped(event_context=once, seconds=90, machine="box")
    assert len(clock.jumps(NOW)) == 1


def test_jumps_are_shown_until_they_are_seen_or_a_month_old() -> None:
    first = jump(NOW - DAY)
    second = jump(NOW, -90)
    assert clock.jumps(NOW) == [second, first]
    clock.jumps_seen(event_context=event_context(NOW), up_to=first.pk)
    assert clock.jumps(NOW) == [second]  # it came while the page was open
    assert clock.jumps(NOW + 29 * DAY) == [second]
    assert clock.jumps(NOW + 30 * DAY) == []
