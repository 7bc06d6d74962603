"""The trial's hand in the maker's data: `python -m ...worker.hand` does what each line of JSON asks, and answers so.

A process of its own, because its database is the trial's and not the one of whoever started the trial.
"""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import signal
import sys
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import django

# A step of the demo's rubber shop that nothing was asked of; here each load is to be half an hour hot.
PART, STEP, CHECK = "BAND", 20, "baked"
SHOPS = {"rubber": "a", "moulder": "b"}
SILENT, TAG = re.compile(r"Nothing has read files since .{4,40}?\d:\d\d( [AP]M)?"), re.compile(r"<[^>]*>")
CATCH_S = 30.0


def stage(home: str) -> dict[str, Any]:
    """The demo's workbook with one check more, its orders released; who sends at which step."""
    from django.conf import settings
    from django.core.management import call_command
    from django.utils import timezone

    from traveller.batches.models import Step
    from traveller.exchange.workbook import import_workbook, stopped_by
    from traveller.management.trials.hostile.stage import cast_of, founder_at, release_all, shop

    call_command("migrate", interactive=False, verbosity=0)
    now = timezone.now()
    book = Path(home) / "work" / "book"
    shutil.copytree(settings.ROOT / "fixtures" / "demo", book)
    with open(book / "checks.csv", encoding="utf-8", newline="") as file:
        columns = next(csv.reader(file))
    row = {
        "part": PART, "step": STEP, "check": CHECK, "kind": "soak", "scope": "load", "blocks": "sending",
        "least": 30, "unit": "min", "temperature": "80-95 C", "source": "this trial",
    }  # fmt: skip
    with open(book / "checks.csv", "a", encoding="utf-8", newline="") as file:
        csv.DictWriter(file, columns).writerow(row)
    report = import_workbook(book, event_context=founder_at(now))
    shutil.rmtree(book)
    if why := stopped_by(report):
        raise SystemExit("\n".join(str(problem) for problem in why))
    release_all(now)
    cast = {code: shop(now, code, "operator") for code in SHOPS}
    step = Step.objects.filter(batch__part__number=PART, number=STEP).exclude(state="done").order_by("pk")[0]
    cast["rubber"]["steps"].insert(0, step.pk)
    return {**cast, "founder": cast_of(now)["founder_links"][0]}


def send_file(
    path: str, kind: str, name: str, shop: str, step: int, site: int, at: str, ago_s: float
) -> dict[str, Any]:
    """Send a file as this shop's phone, told `ago_s` seconds ago; a log is of a load of its own."""
    from django.utils import timezone

    from sites.actor import Actor
    from traveller.batches.actions.attach import attach
    from traveller.batches.actions.loads import end_load, start_load
    from traveller.batches.models import Attachment, Load
    from traveller.journal.event_context import EventContext
    from traveller.journal.refusal import Refusal

    reported = timezone.now() - timedelta(seconds=ago_s)
    actor = Actor("operator", "Ines", site_id=site, phone=SHOPS[shop])
    load = None
    if kind == "log":
        began = datetime.fromisoformat(at) + timedelta(minutes=1)
        event_context = EventContext(uid=uuid4(), at=began, recorded_at=reported, actor=actor)
        _done(start_load(event_context=event_context, step_id=step, quantity=1))
        load = Load.objects.get(uid=event_context.uid)
        ended = EventContext(uid=uuid4(), at=began + timedelta(minutes=40), recorded_at=reported, actor=actor)
        _done(end_load(event_context=ended, load_id=load.pk))
    event_context = EventContext(uid=uuid4(), at=reported, recorded_at=reported, actor=actor)
    content = Path(path).read_bytes()
    answer = attach(
        event_context=event_context, step_id=step, content=content, name=name, kind=kind,
        load=load.uid if load else None,
    )  # fmt: skip
    if isinstance(answer, Refusal):
        raise RuntimeError(f"{answer.code} {answer.figures}")
    sent = Attachment.objects.get(event=answer.event)
    return {
        "attachment": sent.pk,
        "reading": sent.reading_id,
        "shop": shop,
        "kind": kind,
        "at": reported.isoformat(),
    }


def look_at_reading(reading: int) -> dict[str, Any]:
    """Where the reading of a file stands."""
    from traveller.batches.models import FileReading

    row = FileReading.objects.defer("content").get(pk=reading)
    return {
        "state": row.state, "taken": row.taken_at and row.taken_at.isoformat(),
        "by": process_of(row.taken_by) if row.taken_by else 0,
        "tries": row.tries, "why": row.why,
    }  # fmt: skip


def events_of(attachment: int) -> dict[str, Any]:
    """How often a file was told of, and how often its load was found hot enough (None: no log)."""
    from traveller.batches.actions.read_file import READ, UNREADABLE
    from traveller.batches.models import Attachment, Verdict
    from traveller.journal.models import Event

    row = Attachment.objects.select_related("event").get(pk=attachment)
    events = Event.objects.filter(kind__in=[READ, UNREADABLE], data__caused_by=str(row.event.uid))
    verdicts = Verdict.objects.filter(load=row.load_id, check_key=CHECK, outcome="passed")
    return {
        "events": sorted(events.values_list("kind", flat=True)),
        "passed": verdicts.count() if row.load_id else None,
    }


def ask_for_task(task: str) -> str:
    """Ask for one of the tasks that read nothing themselves; its id."""
    from django.utils import timezone
    from django_tasks_db.models import DBTaskResult

    from traveller.batches.tasks import read_waiting
    from traveller.journal.background import enqueue
    from traveller.management.tasks import tidy

    before = set(DBTaskResult.objects.values_list("pk", flat=True))
    enqueue({"tidy": tidy, "read_waiting": read_waiting}[task], now=timezone.now())
    return str(DBTaskResult.objects.exclude(pk__in=before).get(task_path__endswith=task).pk)


def catch(task: str) -> int:
    """Halt the lane that does this task in the middle of it and give its number; 0 when it was done before that, or the
    lane had ended by itself."""
    from django_tasks_db.models import DBTaskResult

    until = time.monotonic() + CATCH_S
    while time.monotonic() < until:
        row = DBTaskResult.objects.get(pk=task)
        if row.status not in ("READY", "RUNNING"):
            return 0
        if row.status == "RUNNING":
            lane = process_of(row.worker_ids[-1])
            try:
                os.kill(lane, signal.SIGSTOP)
            except ProcessLookupError:
                return 0
            # What was under way when it was halted arrives.
            time.sleep(0.05)
            if status_of(task) == "RUNNING":
                return lane
            os.kill(lane, signal.SIGCONT)
    return 0


def process_of(worker: str) -> int:
    """The number of the process that signs so."""
    return int(worker.split(":")[1])


def status_of(task: str) -> str:
    from django_tasks_db.models import DBTaskResult

    return str(DBTaskResult.objects.values_list("status", flat=True).get(pk=task))


def open_tasks() -> int:
    """Tasks that are ready or under way."""
    from django_tasks_db.models import DBTaskResult

    return DBTaskResult.objects.filter(status__in=["READY", "RUNNING"]).count()


def pages(rubber: dict[str, Any], moulder: dict[str, Any], founder: str, attachment: int) -> dict[str, Any]:
    """What shop and founder see of a file that waits, and whether the other shop's count is taken."""
    from sites.models import Site
    from traveller.batches.models import FileReading
    from traveller.journal.models import Event

    oldest = FileReading.objects.order_by("asked_at").values_list("asked_at", flat=True)[0]
    shop = _phone(rubber)
    seen = shop.get(f"/here/proof/{attachment}").content.decode()
    desk = _client()
    desk.post(founder, {})
    evidence = desk.get(f"/evidence/{attachment}").content.decode()
    before = Event.objects.count()
    fields = {"news_id": str(uuid4()), "good": 1, "stage": "rest", "sure": "yes"}
    answer = _phone(moulder).post(f"/here/step/{moulder['steps'][0]}/count", fields)
    return {
        "being_read": "data-being-read" in seen,
        "shop": _silent(seen),
        "founder": _silent(evidence),
        # The hour as each reader's own clock tells it, from what was asked, not from the page.
        "shop_since": f"{oldest.astimezone(Site.objects.get(pk=rubber['site']).zone):%H:%M}",
        "founder_since": f"{oldest.astimezone(Site.objects.get(kind='own').zone):%H:%M}",
        "names_command": "manage.py work" in evidence,
        "first_page": "manage.py work" in desk.get("/").content.decode(),
        "count": answer.status_code,
        "booked": Event.objects.count() - before,
    }


def _silent(page: str) -> str:
    """Since when nothing read, as a page says it."""
    found = SILENT.search(" ".join(TAG.sub("", page).split()))
    return found[0] if found else ""


def _client() -> Any:
    from django.conf import settings
    from django.test import Client

    return Client(headers={"host": (settings.PUBLIC_ADDRESS or "").partition("://")[2], "accept-language": "en"})


def _phone(shop: dict[str, Any]) -> Any:
    found = _client()
    found.post(f"/pass/{shop['token']}", {"open": "1"})
    found.post("/person", {"name": shop["person"]})
    return found


def _done(answer: Any) -> None:
    from traveller.journal.refusal import Refusal

    if isinstance(answer, Refusal):
        raise RuntimeError(f"{answer.code} {answer.figures}")


DEEDS: dict[str, Callable[..., Any]] = {
    deed.__name__: deed
    for deed in (stage, send_file, look_at_reading, events_of, ask_for_task, catch, status_of, open_tasks, pages)
}


def main() -> None:
    """One answer a line until nothing more is asked."""
    django.setup()
    from django.db import close_old_connections

    for line in sys.stdin:
        deed, given = json.loads(line)
        close_old_connections()
        print(json.dumps(DEEDS[deed](**given)), flush=True)


if __name__ == "__main__":
    main()
