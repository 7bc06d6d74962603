"""A release knows a database of a newer one, by its format or by migrations it has never heard of."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.migrations.recorder import MigrationRecorder

from traveller.journal import format
from traveller.journal.models import Format

pytestmark = pytest.mark.django_db


def _without_a_place_for_it() -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TABLE {Format._meta.db_table}")


def test_a_database_of_this_release_is_neither_newer_nor_older() -> None:
    found = (format.older(connection), format.newer(connection), format.lacking(connection))
    assert found == (None, None, 0)
    assert format.number(connection) == format.FORMAT


def test_a_greater_format_is_newer() -> None:
    Format.objects.update(number=format.FORMAT + 1)
    reason = format.newer(connection)
    assert reason and f"format {format.FORMAT + 1}" in reason and f"up to format {format.FORMAT}" in reason


@pytest.mark.parametrize("label", ["ledger", "sites", "batches"])
def test_a_migration_that_this_release_does_not_have_is_newer(label: str) -> None:
    MigrationRecorder(connection).record_applied(label, "0099_future")
    reason = format.newer(connection)
    assert reason and f"{label} 0099_future" in reason


def test_migrations_of_others_in_the_same_database_are_none_of_ours() -> None:
    MigrationRecorder(connection).record_applied("shop", "0099_future")
    assert format.newer(connection) is None


def test_a_migration_that_was_not_applied_yet_is_lacking() -> None:
    MigrationRecorder(connection).record_unapplied("shipping", "0001_second_plan")
    assert (format.newer(connection), format.lacking(connection)) == (None, 1)


@pytest.mark.parametrize("number", [0, 1])
def test_a_lower_format_is_older(number: int) -> None:
    Format.objects.update(number=number)
    reason = format.older(connection)
    assert reason and f"format {number}" in reason and f"before format {format.FORMAT}" in reason


def test_migrations_of_an_earlier_plan_without_a_format_are_older() -> None:
    """As the first releases left them, which had no place for a number."""
    MigrationRecorder(connection).record_applied("ledger", "0001_initial")
    assert format.older(connection) is None, "it has a number, so what is unknown there is newer"
    _without_a_place_for_it()
    reason = format.older(connection)
    assert reason and "format 0" in reason


def test_an_empty_database_and_one_that_is_half_brought_up_to_date_are_not_older() -> None:
    _without_a_place_for_it()
    assert format.older(connection) is None


def test_no_format_is_lacking_until_it_is_written() -> None:
    Format.objects.all().delete()
    assert (format.older(connection), format.newer(connection), format.lacking(connection)) == (None, None, 1)
    format.write_format(connection)
    assert (format.number(connection), format.lacking(connection)) == (format.FORMAT, 0)


def test_writing_never_lowers_the_format() -> None:
    Format.objects.update(number=format.FORMAT + 1)
    format.write_format(connection)
    assert format.number(connection) == format.FORMAT + 1


def test_there_is_one_row_only() -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Format.objects.create(pk=2, number=1)
    assert Format.objects.count() == 1
