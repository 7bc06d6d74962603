"""`manage.py trial NAME`: one trial under bad conditions, each figure beside its goal."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from traveller.management import trials

SEED = 20261129


class Command(BaseCommand):
    help = "Runs one trial and prints each figure beside its goal; exit code 1 when a goal is missed."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", nargs="?", help="which trial (without: all of them, a line each)")
        parser.add_argument("--seed", type=int, default=SEED, help=f"what everything random is drawn from ({SEED})")
        parser.add_argument("--short", action="store_true", help="the form that the tests run: no times judged")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["name"] is None:
            self.list()
            return
        try:
            trial = trials.find_trial(options["name"])
        except KeyError:
            known = ", ".join(trials.names())
            raise CommandError(f"There is no trial {options['name']!r}. There are: {known}.") from None
        if code := trial.run(options["seed"], short=options["short"], out=self.say):
            sys.exit(code)

    def list(self) -> None:
        """All trials, a line each."""
        found = [trials.find_trial(name) for name in trials.names()]
        width = max((len(trial.name) for trial in found), default=0)
        for trial in found:
            self.say(f"{trial.name:{width}}  {trial.title}")

    def say(self, line: str) -> None:
        """One line, at once: a trial lasts, and who watches it should see how far it is."""
        self.stdout.write(line)
        self.stdout.flush()
