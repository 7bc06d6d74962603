"""Work behind the workbook's page: an upload is decoded, tried and imported in the slow lane, never in a request."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from uuid import UUID

from django.db import Error
from django.db.models import Max
from django.utils import timezone
from django_tasks import task
from django_tasks.base import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from sites.actor import Actor
from traveller.exchange.kept import Aim, ImportAsked, Kept, Told
from traveller.exchange.workbook import Counts, Problem, RawBook, Report, Unconfirmed, import_workbook
from traveller.journal.background import enqueue
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.refusal import Refusal
from traveller.journal.unable import code_of

__all__ = ["ask_for_import", "do_asked", "imports_silent_since"]

LANE = "slow"
# What has been at work for longer has died; the largest workbooks take minutes.
LONGEST = timedelta(minutes=10)


def ask_for_import(kept: Kept, aim: Aim, event_context: EventContext, confirmed: str = "") -> None:
    """Ask for an upload to be tried, which changes nothing, or imported. OSError where the disk is full.

    `confirmed`: the token of the questions that were answered, see `import_workbook`.
    """
    kept.ask(ImportAsked(aim, str(event_context.uid), event_context.recorded_at.isoformat()))
    enqueue(
        do_asked,
        now=event_context.recorded_at,
        key=kept.key,
        name=kept.name,
        aim=aim,
        uid=str(event_context.uid),
        happened=event_context.at.isoformat(),
        person=event_context.actor.person,
        confirmed=confirmed,
    )


@task(queue_name=LANE)
def do_asked(
    *,
    key: str,
    name: str,
    aim: Aim,
    uid: str,
    happened: str,
    person: str,
    confirmed: str = "",
    at: str | None = None,
) -> str:
    """Decode where nobody did yet, then try or import; what came of it is kept beside the upload.

    Done twice it tells the same: what is imported is there already, and its counts are read from the journal.
    `at`: the moment, where it is told.
    """
    now = datetime.fromisoformat(at) if at else timezone.now()
    kept = Kept(key, name)
    event_context = EventContext(
        uid=UUID(uid),
        at=min(datetime.fromisoformat(happened), now),
        recorded_at=now,
        actor=Actor("founder", person),
    )
    try:
        reported = _done(kept, aim, event_context, confirmed)
    except Exception:
        # Whoever waits is told; the lane keeps the traceback.
        kept.tell(Told(aim, uid, broke=True))
        raise
    kept.tell(reported)
    if reported.report is not None and aim == "import":
        kept.drop_content()
    return f"{aim} {name}: {len(reported.problems)} faults"


def _done(kept: Kept, aim: Aim, event_context: EventContext, confirmed: str) -> Told:
    reported = Told(aim, str(event_context.uid))
    before = kept.reported()
    if before is not None and (before.report or before.problems):
        return before
    book = kept.book()
    if book is None:
        return replace(reported, refusal=Refusal("upload_gone"))
    try:
        found = _imported(book, event_context, dry_run=aim == "try", confirmed=confirmed)
    except Error as error:
        # Away, busy or full, which whoever asked reads in words; all else is a fault.
        if code := code_of(error):
            return replace(reported, refusal=Refusal(code))
        raise
    if isinstance(found, Report):
        return replace(reported, report=found)
    if isinstance(found, Unconfirmed):
        return replace(reported, asked=found)
    return replace(reported, problems=tuple(found))


def _imported(
    book: RawBook, event_context: EventContext, *, dry_run: bool, confirmed: str
) -> Report | Unconfirmed | list[Problem]:
    earlier = None if dry_run else Event.objects.filter(uid=event_context.uid, kind="workbook imported").first()
    found = import_workbook(book, event_context=event_context, dry_run=dry_run, confirmed=confirmed)
    if earlier is None or not isinstance(found, Report):
        return found
    return _as_it_was_reported(found, earlier)


def _as_it_was_reported(found: Report, event: Event) -> Report:
    """The report of an import whose worker ended before it could say so: by the journal, which has each row."""
    reported = event.data["told"]
    sheets = {}
    for sheet, counts in found.sheets.items():
        added, changed, removed = (len(reported[word].get(sheet, ())) for word in ("added", "changed", "removed"))
        sheets[sheet] = Counts(added, changed, max(0, counts.unchanged - added - changed), removed)
    return replace(found, sheets=sheets)


def imports_silent_since(asked: ImportAsked, now: datetime, patience: timedelta) -> datetime | None:
    """Since when nothing was done in this lane while this waits; none while it is in time or something is at work."""
    lane = DBTaskResult.objects.filter(queue_name=LANE)
    if lane.filter(status=TaskResultStatus.RUNNING, started_at__gt=now - LONGEST).exists():
        return None
    seen = lane.aggregate(begun=Max("started_at"), done=Max("finished_at"))
    last = max(filter(None, (datetime.fromisoformat(asked.at), *seen.values())))
    return last if now - last > patience else None
