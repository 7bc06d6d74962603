"""A file that proves something is sent for a step, or for one load of it; the original is kept as sent.

It is answered before it is read: a worker reads it (`tasks.read_next`), and what it says is judged then.
"""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256
from pathlib import PurePath
from typing import Any
from uuid import UUID

from traveller.batches.actions.read_file import tell_reading
from traveller.batches.files.decoded import as_read, key_of, kind_of
from traveller.batches.files.stored import keep_file
from traveller.batches.models import Attachment, AttachmentKind, EvidenceFile, FileReading, Load, Step
from traveller.batches.models.attachment import LOG_KINDS
from traveller.batches.proof.judge import Judging
from traveller.batches.steps.answer import Answer
from traveller.batches.steps.fetch import step_locked
from traveller.batches.tasks import read_next
from traveller.decode.kinds.log import answers_from
from traveller.journal.action import action
from traveller.journal.background import enqueue
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused

KIND = "evidence sent"
UNDERSTOOD = "log understood"
_NOT_ITS_FAULT = ("too_slow", "ended")


@action
def attach(
    *,
    event_context: EventContext,
    step_id: int,
    content: bytes,
    name: str,
    kind: str,
    load: UUID | None = None,
    answers: Mapping[str, str] | None = None,
) -> Answer:
    """News. A second log for the same load takes the place of the first, which stays in the record.

    A log may serve several batches that shared a load: it is sent for each of them, and kept once.
    """
    if kind not in AttachmentKind.values:
        raise Refused("unknown_kind_of_file")
    reported = {
        "step": step_id,
        "digest": sha256(content).hexdigest(),
        "name": _plain_name(name),
        "kind": kind,
        "load": str(load) if load else None,
        "answers": dict(answers or {}),
    }
    if before := earlier(event_context, KIND, reported):
        return Answer(before, repeated=True)
    file = keep_file(content, kind)
    answers_from(dict(answers or {}))
    row = _load_of(load, kind)
    # The load may have been split off to a child batch since the phone knew it.
    step = step_locked(row.step_id if row else step_id)
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[step.batch.subject],
        reported=reported,
        site_id=step.site_id,
        number=step.number,
        step_id=step.pk,
        also_for=_also_for(file.pk, step),
    )
    replaced = kind in LOG_KINDS and _strike_before(event, step, row, kind)
    reading, new = _to_read(file, kind, answers or {}, event_context)
    attachment = Attachment.objects.create(
        file=file,
        reading=reading,
        event=event,
        step=step,
        load=row,
        kind=kind,
        name=_plain_name(name),
        answers=dict(answers or {}),
    )
    # What a log before it had proved is no longer proved; this one is judged when it is read.
    if replaced:
        Judging(event_context).step(step)
    _read_or_ask(attachment, reading, event_context, new=new)
    return Answer(event)


@action
def understand(*, event_context: EventContext, attachment_id: int, answers: Mapping[str, str]) -> Answer:
    """Somebody answers what the log reader asked: which channel, day or month first, which unit."""
    reported = {"attachment": attachment_id, "answers": dict(answers)}
    if before := earlier(event_context, UNDERSTOOD, reported):
        return Answer(before, repeated=True)
    attachment = Attachment.objects.get(pk=attachment_id)
    if not attachment.is_log or attachment.struck_by_id:
        raise Refused("log_replaced")
    answers_from(dict(answers))
    step = step_locked(attachment.step_id)
    event = record(
        event_context=event_context,
        kind=UNDERSTOOD,
        subjects=[step.batch.subject],
        reported=reported,
        site_id=step.site_id,
        number=step.number,
        step_id=step.pk,
    )
    attachment.answers = {**attachment.answers, **answers}
    attachment.reading, new = _to_read(attachment.file, attachment.kind, attachment.answers, event_context)
    attachment.save(update_fields=["answers", "reading"])
    _read_or_ask(attachment, attachment.reading, event_context, new=new)
    return Answer(event)


def _load_of(uid: UUID | None, kind: str) -> Load | None:
    """The load that a file is sent for; one that nobody knows is refused, and none where it has to be known."""
    if kind == AttachmentKind.CORE and uid is None:
        # How well an oven heats a charge hangs on how full it was.
        raise Refused("core_needs_load")
    row = Load.objects.filter(uid=uid).first() if uid else None
    if uid and row is None:
        raise Refused("unknown_load")
    return row


def _strike_before(event: Event, step: Step, load: Load | None, kind: str) -> bool:
    """Was there a log of the same load, or of the whole step, in whose place this one comes?"""
    logs = Attachment.objects.filter(step=step, load=load, kind=kind, struck_by=None)
    return logs.update(struck_by=event) > 0


def _to_read(
    file: EvidenceFile, kind: str, answers: Mapping[str, Any], event_context: EventContext
) -> tuple[FileReading, bool]:
    """The one reading of this file in this way, and whether it has to be asked for."""
    decoder = kind_of(file, kind)
    reported = as_read(answers) if decoder == "log" else {}
    reading, new = FileReading.objects.get_or_create(
        file=file,
        kind=decoder,
        key=key_of(reported),
        defaults={
            "answers": reported,
            "asked_at": event_context.recorded_at,
            "site_id": event_context.actor.site_id,
            "phone": event_context.actor.phone,
        },
    )
    if reading.state == FileReading.State.UNREADABLE and reading.why in _NOT_ITS_FAULT:
        # The machine may have been busy or short of memory: who sends it again is given another try.
        reading.state, reading.why, reading.tries, reading.taken_at = FileReading.State.WAITING, "", 0, None
        reading.asked_at, new = event_context.recorded_at, True
        reading.save()
    return reading, new


def _read_or_ask(attachment: Attachment, reading: FileReading, event_context: EventContext, *, new: bool) -> None:
    """Told at once where it was read this way before; else a worker is asked, once."""
    if new:
        enqueue(read_next, now=event_context.recorded_at)
    elif reading.state != FileReading.State.WAITING:
        tell_reading(attachment, reading, event_context.recorded_at)


def _plain_name(name: str) -> str:
    """The file's own name without any folder, for people to recognise it."""
    return PurePath(name.replace("\\", "/")).name.replace("\x00", "")[:160] or "file"


def _also_for(digest: str, step: Step) -> list[str]:
    """Other batches that the same file was sent for: allowed when they shared the load, and said."""
    others = Attachment.objects.filter(file=digest).exclude(step__batch=step.batch_id)
    return sorted(set(others.values_list("step__batch__code", flat=True)))
