"""`manage.py bench`: measures what the program promises, each against a floor in the same run."""

from __future__ import annotations

import importlib
import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser


class Command(BaseCommand):
    help = "Measures the promised figures against their floors; exit code 1 when one is missed."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("names", nargs="*", help="which measurements (default: all)")
        parser.add_argument("--quick", action="store_true", help="fewer rounds: a first look, not a judgement")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            main = importlib.import_module("tests.bench.main")
        except ModuleNotFoundError as error:
            raise CommandError(
                f"What measures lies in the project's tests, and {error.name} is not there. Run it in a copy of the "
                "whole project, after `manage.py test` has installed what tests need."
            ) from error
        sys.exit(main.run(options["names"], size="quick" if options["quick"] else "full"))
