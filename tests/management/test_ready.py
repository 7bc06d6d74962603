"""No command works on a database of a newer release, or on one that was not brought up to date."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from tests.test_settings import manage
from tests.unguarded import lift
from traveller.journal import guards
from traveller.journal.models import Format
from traveller.management.ports import unused
from traveller.management.ready import ready_database

COMMANDS: dict[str, Callable[[Path], Any]] = {
    "verify": lambda folder: call_command("verify", stdout=StringIO()),
    "import_workbook": lambda folder: call_command("import_workbook", str(folder)),
    "export_workbook": lambda folder: call_command("export_workbook", str(folder / "new")),
    "migrate": lambda folder: call_command("migrate", interactive=False, verbosity=0),
    "serve": lambda folder: ready_database(migrate=False),
    "serve --migrate": lambda folder: ready_database(migrate=True),
}
READERS = [name for name in COMMANDS if "migrate" not in name]


@pytest.mark.django_db
@pytest.mark.parametrize("name", COMMANDS)
def test_a_database_of_a_newer_release_is_left_alone(name: str, tmp_path: Path) -> None:
    Format.objects.update(number=7)
    with pytest.raises(CommandError, match=r"belongs to a newer release.*format 7.*Start that newer release"):
        COMMANDS[name](tmp_path)
    assert (Format.objects.get().number, list(tmp_path.iterdir())) == (7, [])


@pytest.mark.django_db
@pytest.mark.parametrize("name", COMMANDS)
def test_a_database_of_an_earlier_plan_is_left_alone_and_its_way_over_is_named(name: str, tmp_path: Path) -> None:
    Format.objects.update(number=1)
    with pytest.raises(CommandError, match=r"written by an earlier release.*format 1.*export_workbook.*empty database"):
        COMMANDS[name](tmp_path)
    assert (Format.objects.get().number, list(tmp_path.iterdir())) == (1, [])


@pytest.mark.django_db
@pytest.mark.parametrize("name", READERS)
def test_a_database_that_was_not_brought_up_to_date_is_left_alone(name: str, tmp_path: Path) -> None:
    MigrationRecorder(connection).record_unapplied("shipping", "0001_second_plan")
    with pytest.raises(CommandError, match=r"lacks 1 migration of this release.*manage.py migrate"):
        COMMANDS[name](tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.django_db
@pytest.mark.parametrize("name", READERS)
def test_a_database_of_this_release_is_not_refused_for_its_age(name: str, tmp_path: Path) -> None:
    try:
        COMMANDS[name](tmp_path)
    except SystemExit:
        assert name == "import_workbook"  # it had nothing to read, and said so


@pytest.mark.django_db
def test_migrate_puts_lost_triggers_back() -> None:
    lift(connection)
    assert guards.missing_triggers(connection)
    with pytest.raises(CommandError, match="The journal is not protected"):
        ready_database(migrate=False)
    call_command("migrate", interactive=False, verbosity=0)
    assert guards.missing_triggers(connection) == []
    ready_database(migrate=False)


@pytest.mark.django_db
@pytest.mark.parametrize("option", ["plan", "check_unapplied"])
def test_migrate_that_only_looks_puts_nothing_back(option: str) -> None:
    lift(connection)
    gone = guards.missing_triggers(connection)
    call_command("migrate", interactive=False, verbosity=0, stdout=StringIO(), **{option: True})
    assert guards.missing_triggers(connection) == gone
    guards.install(connection)


@pytest.mark.sqlite
@pytest.mark.long
def test_on_the_command_line_a_lost_trigger_is_named_and_migrate_is_the_way_out(
    tmp_path: Path, migrated: Callable[[Path], None]
) -> None:
    migrated(tmp_path)
    with sqlite3.connect(tmp_path / "traveller.sqlite3") as database:
        database.execute("DROP TRIGGER journal_event_no_delete")
    database.close()
    serve = ("serve", "--port", str(unused()))
    address = {"TRAVELLER_ADDRESS": "http://127.0.0.1:8000"}
    refused = manage(tmp_path, *serve, **address)
    assert (refused.returncode, "manage.py migrate" in refused.stderr) == (1, True), refused.stderr
    done = manage(tmp_path, "migrate")
    assert done.returncode == 0, done.stderr
    assert manage(tmp_path, "verify").returncode == 0
    with sqlite3.connect(tmp_path / "traveller.sqlite3") as database:
        database.execute("INSERT INTO django_migrations (app, name, applied) VALUES ('ledger', '0099_future', 0)")
        database.commit()
    database.close()
    newer = manage(tmp_path, *serve, **address)
    assert (newer.returncode, "ledger 0099_future" in newer.stderr) == (1, True), newer.stderr
    assert "Traceback" not in newer.stderr + refused.stderr
