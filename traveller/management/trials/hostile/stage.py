"""The maker on whom the trial is tried, made in a process of its own: `python -m ...hostile.stage full|short`.

The demo's workbook and, in full, its four weeks of news; passes for two shops and the packer, links for the founder.
The last line printed is JSON: what the callers need to know.
"""

from __future__ import annotations

import json
import sys
from datetime import UTC, datetime, time
from typing import Any
from uuid import uuid4

import django


def main(size: str) -> None:
    django.setup()
    from django.core.management import call_command
    from django.utils import timezone

    call_command("migrate", interactive=False, verbosity=0)
    now = timezone.now()
    import_demo(now)
    if size == "full":
        from traveller.management.demo.story import Story

        Story(now).tell()
    else:
        release_all(now)
    print(json.dumps(cast_of(now)))


def import_demo(now: datetime) -> None:
    """The demo's workbook, its dates moved to these weeks."""
    from django.conf import settings

    from traveller.exchange.workbook import import_workbook, stopped_by
    from traveller.management.commands.demo import FIRST_DAY_IN_FILES
    from traveller.management.demo.story import day_0

    start = datetime.combine(day_0(now.date()), time(12), tzinfo=UTC)
    shift = (day_0(now.date()) - FIRST_DAY_IN_FILES).days
    report = import_workbook(settings.ROOT / "fixtures" / "demo", event_context=founder_at(start), shift_days=shift)
    if why := stopped_by(report):
        raise SystemExit("\n".join(str(problem) for problem in why))


def release_all(now: datetime) -> None:
    """Every order of the workbook, so that each shop has something to do."""
    from traveller.journal.refusal import Refusal
    from traveller.orders.actions.release import release
    from traveller.orders.models import OrderLine

    found = release(event_context=founder_at(now), line_ids=list(OrderLine.objects.values_list("pk", flat=True)))
    if isinstance(found, Refusal):
        raise SystemExit(f"the orders could not be released: {found.code} {found.figures}")


def founder_at(at: datetime) -> Any:
    from sites.actor import Actor
    from traveller.journal.event_context import EventContext

    return EventContext(uid=uuid4(), at=at, recorded_at=at, actor=Actor("founder", "founder"))


def cast_of(now: datetime) -> dict[str, Any]:
    """Who takes part: links, passes, and the steps, batches and lines at which each works."""
    from django.contrib.auth import get_user_model

    from traveller.batches.models import Batch
    from traveller.orders.models import OrderLine
    from traveller.products.models import Part
    from traveller.web.door_views import sign_in_link

    founders = [get_user_model().objects.create(username=name) for name in ("founder", "second-founder")]
    parts = list(Part.objects.order_by("pk"))
    return {
        "founder_links": [sign_in_link(founder) for founder in founders],
        "attackers": shop(now, "moulder", "operator"),
        "neighbour": shop(now, "printer", "operator"),
        "packer": shop(now, "bench", "packing"),
        "line": OrderLine.objects.order_by("-pk").values_list("pk", flat=True)[0],
        "batches": list(Batch.objects.order_by("pk").values_list("code", flat=True)),
        "part": [parts[0].number, parts[0].name],
    }


def shop(now: datetime, code: str, kind: str) -> dict[str, Any]:
    """A pass of this site, who works there, and the steps that are not done, first those where pieces are made."""
    from sites.actions.make_pass import make_pass
    from sites.models import Person, Site
    from traveller.batches.models import Step, StepState
    from traveller.products.models import OperationKind
    from traveller.web.door_views import new_token

    site = Site.objects.get(code=code)
    steps = Step.objects.filter(site=site).exclude(state=StepState.DONE).select_related("operation", "batch")
    rows = sorted(steps, key=lambda row: (row.operation.kind != OperationKind.MAKE, row.pk))
    return {
        "site": site.pk,
        "token": make_pass(site=site, kind=kind, token=new_token(), at=now, label="trial").token,
        "person": Person.objects.filter(site=site).values_list("name", flat=True)[0],
        "steps": [row.pk for row in rows],
        "batches": list(dict.fromkeys(row.batch.code for row in rows)),
    }


if __name__ == "__main__":
    main(sys.argv[1])
