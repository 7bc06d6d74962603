"""A full disk, a locked database: words on the page, what was typed still there, and nothing half recorded."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.db import OperationalError, connection

from tests.web.operator.floor import Floor, events, field_of, make_floor, moved, text_of

FULL = "The disk of the server is full. Nothing was recorded: what you typed is still here."
BUSY = "The database is busy. Nothing was recorded yet: what you typed is still here, send it again."


@contextmanager
def full_disk() -> Iterator[None]:
    """The database file may not grow by a single page, as on a full disk."""
    with connection.cursor() as cursor:
        cursor.execute("VACUUM")
        pages = cursor.execute("PRAGMA page_count").fetchone()[0]
        assert cursor.execute(f"PRAGMA max_page_count = {pages}").fetchone()[0] == pages
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA max_page_count = 1073741823")


@contextmanager
def locked() -> Iterator[None]:
    """Another program holds the write lock of the file, and this one does not wait for long."""
    other = sqlite3.connect(connection.settings_dict["NAME"], isolation_level=None)
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 50")
    other.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        other.execute("ROLLBACK")
        other.close()
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA busy_timeout = 20000")


@pytest.mark.sqlite
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(("unable", "sentence"), [(full_disk, FULL), (locked, BUSY)], ids=["full", "locked"])
def test_a_count_that_cannot_be_stored_is_not_lost(unable: Callable[[], Any], sentence: str) -> None:
    floor = make_floor()
    assert floor.phone.get("/here/").status_code == 200
    typed = {f"lot:{floor.resin.pk}:0": "PC-77120", "shots": "24", "scrap:short": "3", "note": "x" * 90}
    typed["sure:same_again"] = "yes"
    stored = 0
    with unable():
        # The last page of the file may have room for a few more.
        while (answer := floor.count(20, "45", typed)).status_code == 302 and stored < 100:
            stored += 1
    assert answer.status_code == 503 and sentence in text_of(answer)
    assert {field: field_of(answer, field) for field in (*typed, "good")} == {**typed, "good": "45"}
    assert events("counted") == stored and floor.step(20).good == 45 * stored
    # Sent again once there is room: the same news, recorded once.
    uid = str(field_of(answer, "news_id"))
    for _ in range(2):
        assert moved(floor.count(20, "45", typed, news_id=uid)) == f"/here/told/{uid}"
    assert events("counted") == stored + 1 and floor.step(20).good == 45 * (stored + 1)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("path", "typed", "kept"),
    [
        ("count", {"stage": "good", "good": "24"}, "good"),
        ("load", {"quantity": "24", "place": "fixture B"}, "place"),
        ("done", {"rest": "lost", "note": "swept up"}, "note"),
    ],
)
def test_every_telling_of_a_step_survives_a_locked_database(
    floor: Floor, monkeypatch: pytest.MonkeyPatch, path: str, typed: dict[str, str], kept: str
) -> None:
    floor.moulded(24)
    before = events()

    def locked_out(*_args: object, **_more: object) -> None:
        raise OperationalError("database is locked")

    with monkeypatch.context() as patched:
        patched.setattr("traveller.batches.actions.report.record_at", locked_out)
        patched.setattr("traveller.batches.actions.loads.record", locked_out)
        patched.setattr("traveller.batches.actions.finish_step.record", locked_out)
        answer = floor.post(floor.path(30, path), typed)
    assert answer.status_code == 503 and BUSY in text_of(answer)
    assert field_of(answer, kept) == typed[kept] and events() == before
