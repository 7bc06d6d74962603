"""`manage.py migrate`: the framework's, but never on a newer release's database, and not in its own way."""

from __future__ import annotations

from typing import Any

from django.core.management.commands import migrate

from traveller.management.ready import refuse_foreign


class Command(migrate.Command):
    def get_check_kwargs(self, options: dict[str, Any]) -> Any:
        # The database's own checks come afterwards: one asks for the triggers that this command puts back.
        return {**super().get_check_kwargs(options), "databases": []}

    def handle(self, *args: Any, **options: Any) -> None:
        refuse_foreign()
        super().handle(*args, **options)
        if not (options["plan"] or options["check_unapplied"] or options["skip_checks"]):
            self.check(databases=[options["database"]])
