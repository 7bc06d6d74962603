"""May this release read and write this database? Asked before anything is done with it.

A newer release may have written what this one would read wrongly and then write over. It is known by its number
in the format row, and by migrations that this release has never heard of.
"""

from __future__ import annotations

from functools import cache

from django.apps import apps
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from traveller.journal.models import Format

# Raise it when what is recorded changes its meaning without a migration, so that older releases keep away; and when
# the migrations begin anew, so that this one keeps away from what older releases wrote. 2: the second plan; 3: what
# leaves a batch by plan is destroyed or kept; 4: figures as they were typed, where a log's probe was, lines of a
# dispatch that were taken back.
FORMAT = 4

Name = tuple[str, str]  # the label of an app, the name of a migration


def older(connection: BaseDatabaseWrapper) -> str | None:
    """Why this release must leave the database alone: what in it is of a plan that it cannot read; else None."""
    stored = number(connection)
    if stored is None and _is_there(connection):
        return None
    if stored is None and not _unknown(connection):
        return None
    if stored is None or stored < FORMAT:
        return f"its records have format {stored or 0}, and this release reads none before format {FORMAT}"
    return None


def newer(connection: BaseDatabaseWrapper) -> str | None:
    """Why this release must leave the database alone: what in it is newer; None when nothing is."""
    stored = number(connection)
    if stored is not None and stored > FORMAT:
        return f"its records have format {stored}, and this release knows them up to format {FORMAT}"
    unknown = _unknown(connection)
    if unknown:
        names = ", ".join(f"{label} {name}" for label, name in unknown[:3])
        return f"it was brought up to date by migrations that this release does not have ({names})"
    return None


def lacking(connection: BaseDatabaseWrapper) -> int:
    """How many migrations this database lacks; a format number that was not written yet counts as one."""
    applied = _applied(connection)
    missing = sum(
        name not in applied and not (replaced and set(replaced) <= applied) for name, replaced in _on_disk().items()
    )
    if not missing and number(connection) != FORMAT:
        return 1
    return missing


def number(connection: BaseDatabaseWrapper) -> int | None:
    """The stored format; None in a database without one."""
    if not _is_there(connection):
        return None
    row = Format.objects.using(connection.alias).first()
    return row.number if row else None


def write_format(connection: BaseDatabaseWrapper) -> None:
    """Say that this release has written here; a greater number stays."""
    if not _is_there(connection):
        return  # migrated back to before there was a format
    stored = number(connection)
    if stored is None or stored < FORMAT:
        Format.objects.using(connection.alias).update_or_create(pk=1, defaults={"number": FORMAT})


def _is_there(connection: BaseDatabaseWrapper) -> bool:
    """Is there a place for the number?"""
    return Format._meta.db_table in connection.introspection.table_names()


def _unknown(connection: BaseDatabaseWrapper) -> list[Name]:
    """Migrations of ours that were applied and that this release has never heard of."""
    ours = {config.label for config in apps.get_app_configs() if config.name.split(".")[0] in ("traveller", "sites")}
    return sorted(name for name in _applied(connection) - _known() if name[0] in ours)


def _applied(connection: BaseDatabaseWrapper) -> set[Name]:
    return set(MigrationRecorder(connection).applied_migrations())


@cache
def _on_disk() -> dict[Name, tuple[Name, ...]]:
    """Every migration of this release, and which older ones it stands for."""
    found = MigrationLoader(None, ignore_no_migrations=True).disk_migrations
    return {name: tuple((label, old) for label, old in migration.replaces) for name, migration in found.items()}


@cache
def _known() -> frozenset[Name]:
    return frozenset(_on_disk()) | {old for replaced in _on_disk().values() for old in replaced}
