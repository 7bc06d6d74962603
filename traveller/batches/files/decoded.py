"""What was read from a file that somebody sent: a log's readings, a photo drawn anew, the pages of a PDF.

Read once by a worker (`tasks.read_next`), in a child process; here what it found is taken from its shelf.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from hashlib import sha256
from json import dumps
from typing import Any, ClassVar

import numpy as np
from django.db.models import Q

from traveller.batches.files.other_oven import other_place
from traveller.batches.files.stored import PDF
from traveller.batches.models import Attachment, AttachmentKind, Batch, EvidenceFile, FileReading
from traveller.batches.models.attachment import LOG_KINDS
from traveller.decode.kinds.log import answers_from
from traveller.decode.wire import packed_message, unpack_kept
from traveller.paper.pdf_pages import PdfPages
from traveller.paper.process_record import PHOTO_PX
from traveller.products.frozen import checks_of
from traveller.rules.checks.heat import heat_asked
from traveller.rules.logs import Fault, Log, NotALog, Said, Unclear
from traveller.rules.logs.doubt import oven_doubt, probe_doubt, unit_doubt

# Drawn anew in these sizes: for a page, and for a paper.
SHOWN_PX, PRINTED_PX = 1600, PHOTO_PX
_SIDES = (SHOWN_PX, PRINTED_PX)
# The digest is of what was found before packing; a packed message may not grow beyond this when it is unpacked.
_MESSAGE_BYTES_MAX = 64 << 20
# A file that may still prove something: one that could not be read, or is no log, has to be sent anew.
# Nor does one that was said to be another load's.
_THIS_LOADS = Q(answers__oven__isnull=True) | ~Q(answers__oven="other")
USABLE = _THIS_LOADS & (
    Q(reading=None)
    | ~Q(reading__state=FileReading.State.UNREADABLE)
    & (Q(reading__finding="") | Q(reading__finding__startswith="log.ask_"))
)
_OF_THE_LOAD = frozenset(("probe", "oven"))
_NOT_READ = {"too_slow": "log.too_slow", "too_large": "log.takes_memory", "ended": "log.ended"}
_FAULTS = {"too_slow": "endless", "too_large": "heavy", "ended": "ended"}


@dataclass(frozen=True, slots=True)
class BeingRead:
    """Sent, but not read yet: it proves nothing so far."""

    since: datetime
    code: ClassVar[str] = "being_read"
    figures: ClassVar[Mapping[str, Any]] = {}


class _NotYet(Exception):
    """Nothing to take from the shelf; never remembered, since the next look may find it."""

    def __init__(self, reading: FileReading) -> None:
        self.reading = reading


def kind_of(file: EvidenceFile, kind: str) -> str:
    """By which decoder a file that was sent as a log, photo or certificate is read."""
    if kind in LOG_KINDS:
        return "log"
    return "pdf" if file.content_type == PDF else "picture"


def key_of(answers: Mapping[str, Any]) -> str:
    """One way of reading a file: what was answered about it, in few letters."""
    return sha256(dumps(as_read(answers), sort_keys=True).encode()).hexdigest()[:32]


def as_read(answers: Mapping[str, Any]) -> dict[str, Any]:
    """Of what was answered about a file that by which it is read: where its probe was changes no reading."""
    return {name: value for name, value in answers.items() if name not in _OF_THE_LOAD}


def asked_for(reading: FileReading) -> dict[str, Any]:
    """What the decoder is told beside the bytes."""
    return {"sides": _SIDES} if reading.kind == "picture" else dict(reading.answers)


def packed(facts: Mapping[str, Any], blobs: list[bytes]) -> tuple[bytes, str]:
    """What was found as it is kept, and its digest."""
    message = packed_message(facts, blobs)
    return zlib.compress(message, 1), sha256(message).hexdigest()


def message_of(content: bytes) -> bytes:
    """The decoder's message from what is kept. ValueError where it is damaged."""
    opened = zlib.decompressobj()
    try:
        message = opened.decompress(content, _MESSAGE_BYTES_MAX)
    except zlib.error as fault:
        raise ValueError("what was read of a file is damaged") from fault
    if not opened.eof:
        raise ValueError("what was read of a file is damaged")
    return message


def log_of(attachment: Attachment, operation_id: int | None = None) -> Log | Unclear | NotALog | BeingRead:
    """A logger's file as it is understood with what was answered about it, and asked about where it names another oven,
    where its unit can hardly be right for the checks of its step, and where they hang on the place of its probe
    (`operation_id` saves a query where it is known)."""
    try:
        found = _log(attachment.file_id, key_of(attachment.answers))
    except _NotYet as early:
        if early.reading.state == FileReading.State.WAITING:
            return BeingRead(early.reading.asked_at)
        return NotALog(_NOT_READ.get(early.reading.why, "log.unreadable"))
    if not isinstance(found, Log):
        return found
    told = answers_from(attachment.answers)
    found = replace(found, answers=replace(found.answers, probe=told.probe, oven=told.oven))
    if doubt := oven_doubt(found, *other_place(attachment, head_of(attachment))):
        return doubt
    plans = checks_of(operation_id or attachment.step.operation_id)
    heats = [plan.heat for plan in plans if plan.heat is not None and "log" in plan.kind.needs]
    asked = attachment.kind == AttachmentKind.LOG and any(heat.asks_probe for heat in heats)
    return unit_doubt(found, heat_asked(heats)) or probe_doubt(found, asked=asked) or found


def pages_of(attachment: Attachment) -> PdfPages:
    """The first pages of a PDF as pictures; of any other file none, and nothing to be said."""
    if attachment.file.content_type != PDF or attachment.is_log:
        return PdfPages()
    try:
        facts, pictures = _found(attachment.file_id, "pdf", key_of({}))
    except _NotYet as early:
        waits = early.reading.state == FileReading.State.WAITING
        return PdfPages(fault="being_read" if waits else _FAULTS.get(early.reading.why, "damaged"))
    return PdfPages(fault="locked") if facts.get("locked") else PdfPages(tuple(pictures), int(facts["total"]))


def photo_of(attachment: Attachment, side: int) -> bytes | None:
    """A JPEG of a photo's pixels alone, turned as it was held, in one of SIDES; None while it is being read, and
    where no picture can be made of it."""
    if not attachment.file.content_type.startswith("image/") or attachment.is_log:
        return None
    try:
        _, pictures = _found(attachment.file_id, "picture", key_of({}))
    except _NotYet:
        return None
    return dict(zip(_SIDES, pictures, strict=False)).get(side)


def head_of(attachment: Attachment) -> str:
    """The first lines of a log as text; empty while it is not read."""
    try:
        facts, _ = _found(attachment.file_id, "log", key_of(attachment.answers))
    except _NotYet:
        return ""
    return str(facts.get("head", ""))


def state_of(attachment: Attachment) -> FileReading | None:
    """Where the reading of this file stands; None for one that nothing was asked of."""
    kind = kind_of(attachment.file, attachment.kind)
    key = key_of(attachment.answers if kind == "log" else {})
    return FileReading.objects.defer("content").filter(file=attachment.file_id, kind=kind, key=key).first()


def being_read_of(batches: Iterable[Batch]) -> int:
    """How many files that were sent for any step of these batches are not read yet."""
    sent = Attachment.objects.filter(step__batch__in={batch.pk for batch in batches}, struck_by=None)
    return sent.filter(reading__state=FileReading.State.WAITING).count()


def being_read(steps: Iterable[int]) -> int:
    """How many files of these steps were sent and are not read yet."""
    sent = Attachment.objects.filter(step__in=list(steps), struck_by=None)
    return sent.filter(reading__state=FileReading.State.WAITING).count()


def _found(file_id: str, kind: str, key: str) -> tuple[dict[str, Any], list[bytes]]:
    reading = FileReading.objects.get(file=file_id, kind=kind, key=key)
    if reading.state != FileReading.State.READ or reading.content is None:
        raise _NotYet(reading)
    return unpack_kept(message_of(bytes(reading.content)))


def forget_logs() -> None:
    """What this process remembers of logs: for tests, in which another file may have the same bytes."""
    _log.cache_clear()


@lru_cache(maxsize=4)
def _log(file_id: str, key: str) -> Log | Unclear | NotALog:
    """Named by their digest files never change: a log is taken from its shelf once per process."""
    facts, arrays = _found(file_id, "log", key)
    answers = FileReading.objects.values_list("answers", flat=True).get(file=file_id, kind="log", key=key)
    if reported := facts.get("not_a_log"):
        return NotALog(**reported)
    if reported := facts.get("unclear"):
        return Unclear(reported["question"], tuple(reported["choices"]), reported["figures"])
    said = facts["log"]["said"]
    times, celsius = (np.frombuffer(array, "<f8").astype(np.float64) for array in arrays)
    return Log(
        times,
        celsius,
        Said(**{**said, "channels": tuple(said["channels"])}),
        tuple(Fault(**fault) for fault in facts["log"]["faults"]),
        answers_from(answers),
    )
