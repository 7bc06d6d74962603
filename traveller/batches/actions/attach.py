"""A file that proves something is sent for a step, or for one load of it; the original is kept as sent."""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256
from pathlib import PurePath
from uuid import UUID

from traveller.batches.answer import Answer
from traveller.batches.fetch import step_locked
from traveller.batches.files import keep, to_answers
from traveller.batches.judge import Judging
from traveller.batches.models import Attachment, AttachmentKind, Load, Step
from traveller.journal.deed import deed
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.journal.stamp import Stamp

KIND = "evidence sent"
UNDERSTOOD = "log understood"


@deed
def attach(
    *,
    stamp: Stamp,
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
    told = {
        "step": step_id,
        "digest": sha256(content).hexdigest(),
        "name": _plain_name(name),
        "kind": kind,
        "load": str(load) if load else None,
        "answers": dict(answers or {}),
    }
    before = earlier(stamp, KIND, told)
    if before:
        return Answer(before, repeated=True)
    file = keep(content, kind)
    to_answers(dict(answers or {}))
    row = Load.objects.filter(uid=load).first() if load else None
    if load and row is None:
        raise Refused("unknown_load")
    # The load may have been split off to a child batch since the phone knew it.
    step = step_locked(row.step_id if row else step_id)
    event = record(
        stamp=stamp,
        kind=KIND,
        subjects=[step.batch.subject],
        told=told,
        site_id=step.site_id,
        number=step.number,
        step_id=step.pk,
        also_for=_also_for(file.pk, step),
    )
    if kind == AttachmentKind.LOG:
        Attachment.objects.filter(step=step, load=row, kind=kind, struck_by=None).update(struck_by=event)
    Attachment.objects.create(
        file=file,
        event=event,
        step=step,
        load=row,
        kind=kind,
        name=_plain_name(name),
        answers=dict(answers or {}),
    )
    Judging(stamp).step(step)
    return Answer(event)


@deed
def understand(*, stamp: Stamp, attachment_id: int, answers: Mapping[str, str]) -> Answer:
    """Somebody answers what the log reader asked: which channel, day or month first, which unit."""
    told = {"attachment": attachment_id, "answers": dict(answers)}
    before = earlier(stamp, UNDERSTOOD, told)
    if before:
        return Answer(before, repeated=True)
    attachment = Attachment.objects.get(pk=attachment_id)
    if attachment.kind != AttachmentKind.LOG or attachment.struck_by_id:
        raise Refused("log_replaced")
    to_answers(dict(answers))
    step = step_locked(attachment.step_id)
    event = record(
        stamp=stamp,
        kind=UNDERSTOOD,
        subjects=[step.batch.subject],
        told=told,
        site_id=step.site_id,
        number=step.number,
        step_id=step.pk,
    )
    attachment.answers = {**attachment.answers, **answers}
    attachment.save(update_fields=["answers"])
    Judging(stamp).step(step)
    return Answer(event)


def _plain_name(name: str) -> str:
    """The file's own name without any folder, for people to recognise it."""
    return PurePath(name.replace("\\", "/")).name.replace("\x00", "")[:160] or "file"


def _also_for(digest: str, step: Step) -> list[str]:
    """Other batches that the same file was sent for: allowed when they shared the load, and said."""
    others = Attachment.objects.filter(file=digest).exclude(step__batch=step.batch_id)
    return sorted(set(others.values_list("step__batch__code", flat=True)))
