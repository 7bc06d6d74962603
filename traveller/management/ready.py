"""Is the database one that this release may work on? Otherwise a sentence, before anything is done with it."""

from __future__ import annotations

import io

from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection

from traveller.journal import format


def refuse_foreign() -> None:
    """A database that a newer release has written, or one of an earlier plan, is left alone."""
    reason = format.older(connection)
    if reason:
        raise CommandError(
            f"The database was written by an earlier release of this program: {reason}. Nothing was done with it. "
            "Export its workbook with the release that wrote it (manage.py export_workbook), and import it into an "
            "empty database of this one; keep the old database beside it for its history."
        )
    reason = format.newer(connection)
    if reason:
        raise CommandError(
            f"The database belongs to a newer release of this program: {reason}. Nothing was done with it. "
            "Start that newer release, or put back the backup that was made before the upgrade."
        )


def refuse_other() -> None:
    """A database of a newer release, or one that was not brought up to date yet, is left alone."""
    refuse_foreign()
    lacking = format.lacking(connection)
    if lacking:
        migrations = "1 migration" if lacking == 1 else f"{lacking} migrations"
        raise CommandError(
            f"The database lacks {migrations} of this release. "
            "Make a backup, then `manage.py migrate` or `manage.py serve --migrate`."
        )


def ready_database(*, migrate: bool) -> None:
    """Bring it up to date when asked to; then it must be this release's, and its journal protected."""
    refuse_foreign()
    if migrate:
        call_command("migrate", interactive=False, verbosity=0)
    refuse_other()
    # The journal's triggers are looked for here, so that no server runs on an unprotected journal.
    call_command("check", databases=["default"], stdout=io.StringIO())
