"""Only a test that empties or bends its own database takes the journal's triggers off."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

from traveller.journal import guards


def lift(connection: BaseDatabaseWrapper) -> None:
    """Take the triggers off every append-only table that exists."""
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for table in tables & set(guards.APPEND_ONLY):
            for verb in guards._verbs(connection):
                where = f" ON {table}" if connection.vendor == "postgresql" else ""
                cursor.execute(f"DROP TRIGGER IF EXISTS {guards._name(table, verb)}{where}")
