"""`manage.py work`: reads the files that were sent, and does what else need not be waited for."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from traveller.management.ready import ready_database
from traveller.management.work.run import run


class Command(BaseCommand):
    help = "Does the work behind the pages; `serve` and `demo` start it themselves, it may run elsewhere too."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--parent", type=int, help="end when this process, the parent, has ended")

    def handle(self, *args: Any, **options: Any) -> None:
        ready_database(migrate=False)
        run(self.say, self.stderr.write, options["parent"])

    def say(self, words: str) -> None:
        """At once: whoever started it waits for the line."""
        self.stdout.write(words)
        self.stdout.flush()
