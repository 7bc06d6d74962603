from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.core import checks
from django.db import connections
from django.db.models.signals import post_migrate

from traveller.journal import kinds


class JournalConfig(AppConfig):
    name = "traveller.journal"
    label = "journal"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        kinds.declare("journal", news=("clock was wrong", "clock jumped", "clock jumps seen"))
        post_migrate.connect(_install_guards, sender=self, dispatch_uid="journal.guards")
        post_migrate.connect(_write_format, sender=self, dispatch_uid="journal.format")
        checks.register(_guards_are_there, checks.Tags.database)


def _install_guards(using: str = "default", **_: Any) -> None:
    # After every migrate, not in a migration: SQLite drops triggers when it rebuilds a table.
    from traveller.journal import guards

    guards.install(connections[using])


def _write_format(using: str = "default", **_: Any) -> None:
    from traveller.journal import format

    format.write_format(connections[using])


def _guards_are_there(app_configs: Any, databases: Any = None, **_: Any) -> list[checks.CheckMessage]:
    from traveller.journal import guards

    found: list[checks.CheckMessage] = []
    for alias in databases or []:
        gone = guards.missing_triggers(connections[alias])
        if gone:
            found.append(
                checks.Error(
                    f"The journal is not protected: {', '.join(gone)} missing.",
                    hint="Run `manage.py migrate`: it puts the append-only triggers back.",
                    id="journal.E001",
                )
            )
    return found
