"""The shared fixtures do what they promise: a test may empty its journal, the program may not."""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.db import DatabaseError, connection, transaction
from pytest_django.live_server_helper import LiveServer

from tests import factory
from traveller.journal import guards
from traveller.journal.models import Event


def tell() -> Event:
    return Event.objects.create(
        uid=uuid4(),
        kind="test",
        actor_kind="founder",
        person="Ann",
        happened_at=factory.MONDAY,
        recorded_at=factory.MONDAY,
        digest="0" * 64,
    )


# Twice, because the first one's ending is what the second one looks at.
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("turn", [1, 2])
def test_a_committed_event_is_gone_in_the_next_test_and_the_guards_are_back(turn: int) -> None:
    assert not Event.objects.exists()
    assert guards.missing_triggers(connection) == []
    event = tell()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Event.objects.filter(pk=event.pk).update(person=f"Bob {turn}")
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Event.objects.filter(pk=event.pk)._raw_delete("default")
    assert Event.objects.get().person == "Ann"


@pytest.mark.postgres
@pytest.mark.django_db
def test_the_pass_on_postgres_really_is_on_postgres() -> None:
    assert connection.vendor == "postgresql"


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(("fixture", "width"), [("phone", 360), ("desk", 1280)])
def test_the_browser_sees_the_live_server_and_what_was_just_written(
    request: pytest.FixtureRequest, live_server: LiveServer, fixture: str, width: int
) -> None:
    page = request.getfixturevalue(fixture)
    event = tell()
    answer = page.goto(f"{live_server.url}/no-such-page")
    assert answer.status == 404
    assert page.evaluate("window.innerWidth") == width
    assert Event.objects.get().pk == event.pk
