"""One measurement in a process of its own on a scratch database: `python -m tests.bench.inside NAME SIZE`.

The last line printed is the figures as JSON.
"""

from __future__ import annotations

import importlib
import json
import os
import sys

import django

from tests.bench.main import MEASUREMENTS


def main(name: str, size: str) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "traveller.settings")
    django.setup()
    from django.core.management import call_command

    call_command("migrate", interactive=False, verbosity=0)
    if name not in MEASUREMENTS:
        raise SystemExit(f"There is no measurement {name}; there are {', '.join(MEASUREMENTS)}.")
    figures = importlib.import_module(f"tests.bench.{name}").measure(size)
    print(json.dumps([figure.as_data() for figure in figures]))


if __name__ == "__main__":
    main(*sys.argv[1:3])
