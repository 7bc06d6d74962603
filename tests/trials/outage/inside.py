"""What has to happen on the trial's database, in a process of its own: `python -m tests.trials.outage.inside WHAT`.

`fill PHONES` makes the shop and a pass for each phone; `judge` says what stands in the journal. JSON, on the last line.
"""

from __future__ import annotations

import io
import json
import os
import sys
from contextlib import suppress
from datetime import timedelta
from typing import Any
from unittest import mock

import django


def fill(phones: int) -> dict[str, Any]:
    """A floor with work for a shift, begun six hours ago, and the cookies of so many phones."""
    from django.core.management import call_command
    from django.test.utils import setup_test_environment
    from django.utils import timezone

    call_command("migrate", interactive=False, verbosity=0)
    setup_test_environment()
    from tests.bench.server import cookies_of
    from tests.web.operator.floor import make_floor

    floor = make_floor(start=2_000_000)
    floor.clock.now = timezone.now() - timedelta(hours=6)
    with mock.patch("django.utils.timezone.now", floor.clock):
        floor.moulded(48)
    return {
        "site": floor.moulder.pk,
        "path": floor.path(20, "count"),
        "cookies": [cookies_of(floor.moulder, f"P{number}") for number in range(phones)],
    }


def judge() -> dict[str, Any]:
    """Whose counts stand in the journal, in its order, and what else the phones left behind."""
    from django.core.management import call_command

    from traveller.batches.models import Count
    from traveller.journal.models import Event, Parked

    said = io.StringIO()
    with suppress(SystemExit):
        call_command("verify", stdout=said)
    rows = Count.objects.select_related("event").filter(event__person__startswith="P").order_by("event_id")
    return {
        "told": [[row.event.person, row.good] for row in rows],
        "events": Event.objects.filter(kind="counted", person__startswith="P").count(),
        "parked": Parked.objects.count(),
        "verify": said.getvalue().strip().splitlines()[-1],
    }


def main(what: str, *figures: str) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "traveller.settings")
    django.setup()
    print(json.dumps(fill(int(figures[0])) if what == "fill" else judge()))


if __name__ == "__main__":
    main(*sys.argv[1:])
