"""Append-only is the database's own doing, on SQLite and on PostgreSQL."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from tests import factory
from tests.globe import make_globe
from tests.unguarded import lift
from traveller.journal import guards
from traveller.journal.apps import _guards_are_there
from traveller.journal.models import Event
from traveller.ledger.models import Link, Posting

pytestmark = pytest.mark.django_db


def _story() -> None:
    globe = make_globe(insert=True)
    factory.make_stock(globe.insert, globe.bench, 100)
    globe.report(20, 10)
    globe.report(50, 10)
    assert Link.objects.exists()
    assert Posting.objects.exists()


def _refuses(sql: str) -> bool:
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)
    return True


@pytest.mark.parametrize(
    ("table", "column"),
    [
        ("journal_event", "person"),
        ("journal_eventsubject", "event_id"),
        ("ledger_posting", "quantity"),
        ("ledger_link", "quantity"),
    ],
)
def test_what_was_written_can_neither_be_changed_nor_deleted(table: str, column: str) -> None:
    _story()
    assert _refuses(f"UPDATE {table} SET {column} = {column}")
    assert _refuses(f"DELETE FROM {table}")


def test_the_orm_cannot_change_an_event_either() -> None:
    event = factory.make_event("guarded")
    event.person = "Somebody Else"
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        event.save()
    assert Event.objects.get(pk=event.pk).person == "Mara Lind"


@pytest.mark.sqlite
def test_insert_or_replace_is_refused_too() -> None:
    _story()
    assert _refuses("INSERT OR REPLACE INTO journal_event SELECT * FROM journal_event")
    assert _refuses("INSERT OR REPLACE INTO ledger_posting SELECT * FROM ledger_posting")


@pytest.mark.postgres
def test_truncate_is_refused_too() -> None:
    assert _refuses("TRUNCATE ledger_posting")


def test_a_system_check_names_a_missing_trigger() -> None:
    assert _guards_are_there(None, databases=["default"]) == []
    lift(connection)
    found = _guards_are_there(None, databases=["default"])
    assert [message.id for message in found] == ["journal.E001"]
    assert "ledger_posting_no_delete" in found[0].msg
    assert "journal_event_no_update" in found[0].msg
    guards.install(connection)
    assert _guards_are_there(None, databases=["default"]) == []


def test_manage_check_fails_without_the_triggers() -> None:
    lift(connection)
    with pytest.raises(CommandError, match="journal is not protected"):
        call_command("check", databases=["default"], stdout=StringIO(), stderr=StringIO())
    guards.install(connection)
    call_command("check", databases=["default"], stdout=StringIO(), stderr=StringIO())
