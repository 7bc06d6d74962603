"""The shared fixtures do what they promise: a test may empty its journal, the program may not."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path
from uuid import uuid4

import pytest
from django.db import DatabaseError, connection, transaction
from pytest_django.live_server_helper import LiveServer

from tests import factory
from tests.conftest import decoded_here
from tests.test_settings import manage
from traveller.decode import ask, decode
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


@pytest.mark.child
@pytest.mark.parametrize("content", [b"Time,Temp C\n2026-03-02 08:00,60.5\n2026-03-02 08:01,61\n", b"\0", b""])
@pytest.mark.parametrize("kind", ["log", "picture"])
def test_a_decoder_without_a_process_of_its_own_answers_as_the_child_does(
    kind: str, content: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = {"zone": "America/Chicago", "sides": [90]}
    answer = decode(kind, [content], asked, place=tmp_path)
    monkeypatch.setattr(ask, "_asked", decoded_here)
    assert decode(kind, [content], asked, place=tmp_path) == answer


@pytest.mark.long
@pytest.mark.sqlite
def test_a_migrated_folder_holds_what_migrate_would_make(tmp_path: Path, migrated: Callable[[Path], None]) -> None:
    made = tmp_path / "made"
    assert manage(made, "migrate").returncode == 0
    migrated(tmp_path)
    asked = "SELECT type, name, sql FROM sqlite_master ORDER BY name"
    rows = [sqlite3.connect(folder / "traveller.sqlite3").execute(asked).fetchall() for folder in (made, tmp_path)]
    assert rows[0] == rows[1] and len(rows[0]) > 100


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
