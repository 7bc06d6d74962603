"""Phones through outages of server, database, disk and line: each news once, in order, never a 500, soon sent again.

What is tried stands in the project's tests (tests/trials/outage), because it needs their shops and their browsers.
"""

from __future__ import annotations

import importlib

from django.core.management.base import CommandError

from traveller.management.trials import Out

TITLE = "kills, restarts, full and locked disks and cut lines under 500 events of ten phones, on both databases"


def run(seed: int, *, short: bool, out: Out) -> int:
    """Run the trial; 0 when every goal held. Its full form takes a quarter of an hour or more."""
    try:
        main = importlib.import_module("tests.trials.outage.main")
    except ModuleNotFoundError as error:
        raise CommandError(
            f"What is tried lies in the project's tests, and {error.name} is not there. Run it in a copy of the whole "
            "project, after `manage.py test` has installed what tests need."
        ) from error
    return int(main.run(seed, short=short, out=out))
