"""What a worker found in a file becomes news of each step that the file was sent for, and is judged."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import uuid5

from sites.actor import Actor
from traveller.batches.files.decoded import packed
from traveller.batches.models import Attachment, AttachmentKind, FileReading
from traveller.batches.proof.cores import heated_alike
from traveller.batches.proof.judge import Judging
from traveller.batches.steps.answer import READ_NAME
from traveller.batches.steps.fetch import step_locked
from traveller.batches.steps.news import record_at
from traveller.decode import Decoded, Undecoded
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import reported_before

READ, UNREADABLE = "evidence read", "evidence unreadable"
# Raised when a reader finds other figures in the same bytes: it stands beside what each version found.
VERSIONS = {"log": 2, "picture": 1, "pdf": 1}
_SYSTEM = Actor("system", "")
_STATE = FileReading.State


@action
def finish_reading(*, reading_id: int, outcome: Decoded | Undecoded, now: datetime) -> FileReading:
    """Keep what was found, and tell it of every step that the file was sent for; done twice, it is done once."""
    reading = FileReading.objects.select_for_update().defer("content").get(pk=reading_id)
    if reading.state == _STATE.WAITING:
        if isinstance(outcome, Decoded) and "points" not in outcome.facts:
            reading.state = _STATE.READ
            reading.content, reading.digest = packed(outcome.facts, outcome.blobs)
            reading.finding = _finding(outcome.facts)
        else:
            reading.state = _STATE.UNREADABLE
            reading.why = outcome.why if isinstance(outcome, Undecoded) else "too_large"
        reading.read_at, reading.version = now, VERSIONS[reading.kind]
        reading.save()
    for attachment in reading.attachments.select_related("event").order_by("id"):
        tell_reading(attachment, reading, now)
    return reading


def tell_reading(attachment: Attachment, reading: FileReading, now: datetime) -> Event | None:
    """The event that a file was read, or can't be, caused by its sending or by what was answered about it since;
    None where that was told already. Within the transaction of whoever calls."""
    cause = _cause(attachment)
    event_context = EventContext(uid=uuid5(cause.uid, READ_NAME), at=now, recorded_at=now, actor=_SYSTEM)
    if reported_before(event_context.uid):
        return None
    step = step_locked(attachment.step_id)
    event = record_at(
        step,
        event_context=event_context,
        kind=READ if reading.state == _STATE.READ else UNREADABLE,
        reported={},
        sent=str(attachment.event.uid),
        caused_by=str(cause.uid),
        name=attachment.name,
        file=attachment.file_id,
        **_found(reading),
    )
    if attachment.is_log and attachment.struck_by_id is None:
        judging = Judging(event_context)
        judging.step(step)
        for other in heated_alike(step) if attachment.kind == AttachmentKind.CORE else ():
            judging.step(other)
    return event


def _cause(attachment: Attachment) -> Event:
    """Its sending, or the latest answer to what the reader asked."""
    answered = Event.objects.filter(kind="log understood", data__told__attachment=attachment.pk).order_by("-id")
    return answered.first() or attachment.event


def _found(reading: FileReading) -> dict[str, Any]:
    """What the journal keeps of it: enough to say later that what lies on the shelf is what was judged by."""
    if reading.state != _STATE.READ:
        return {"reading": reading.kind, "why": reading.why, "version": reading.version}
    figures = {"digest": reading.digest, "finding": reading.finding}
    return {"reading": reading.kind, "version": reading.version, **figures}


def _finding(facts: Mapping[str, Any]) -> str:
    """What stands in the way of a log: a question, or that it is none."""
    if "unclear" in facts:
        return f"log.ask_{facts['unclear']['question']}"
    return str(facts["not_a_log"]["code"]) if "not_a_log" in facts else ""
