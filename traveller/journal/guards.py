"""Append-only by the database itself: triggers that refuse UPDATE and DELETE, on SQLite and PostgreSQL.

SQLite drops triggers silently when it rebuilds a table, so they are installed after every migrate and
a system check looks for them at start-up.
"""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

APPEND_ONLY: tuple[str, ...] = ("journal_event", "journal_eventsubject", "ledger_posting", "ledger_link")


def install(connection: BaseDatabaseWrapper) -> None:
    """Put the triggers on every append-only table that exists; harmless when they are there."""
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "CREATE OR REPLACE FUNCTION traveller_append_only() RETURNS trigger LANGUAGE plpgsql AS "
                "$$ BEGIN RAISE EXCEPTION 'append-only: % on %', TG_OP, TG_TABLE_NAME; END $$"
            )
        for table in APPEND_ONLY:
            if table not in tables:
                continue
            for verb in _verbs(connection):
                name = _name(table, verb)
                if connection.vendor == "postgresql":
                    each = "STATEMENT" if verb == "TRUNCATE" else "ROW"
                    cursor.execute(
                        f"CREATE OR REPLACE TRIGGER {name} BEFORE {verb} ON {table} "
                        f"FOR EACH {each} EXECUTE FUNCTION traveller_append_only()"
                    )
                else:
                    cursor.execute(
                        f"CREATE TRIGGER IF NOT EXISTS {name} BEFORE {verb} ON {table} "
                        f"BEGIN SELECT RAISE(ABORT, 'append-only: {verb} on {table}'); END"
                    )


def missing_triggers(connection: BaseDatabaseWrapper) -> list[str]:
    """Names of triggers that ought to be there and are not."""
    tables = set(connection.introspection.table_names())
    wanted = {_name(table, verb) for table in APPEND_ONLY if table in tables for verb in _verbs(connection)}
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'")
        else:
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        there = {row[0] for row in cursor.fetchall()}
    return sorted(wanted - there)


def _verbs(connection: BaseDatabaseWrapper) -> tuple[str, ...]:
    # SQLite knows no TRUNCATE.
    return ("UPDATE", "DELETE", "TRUNCATE") if connection.vendor == "postgresql" else ("UPDATE", "DELETE")


def _name(table: str, verb: str) -> str:
    return f"{table}_no_{verb.lower()}"
