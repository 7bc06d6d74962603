"""Files that prove something: a logger's file, a photo, a certificate; kept as they were sent."""

from __future__ import annotations

from django.db import models

from traveller.batches.models.batch import Load, Step
from traveller.journal.models import Event


class EvidenceFile(models.Model):
    """The bytes, once, however many batches shared the load that they tell of; named by their own digest."""

    digest = models.CharField(max_length=64, primary_key=True)
    content = models.BinaryField()
    size = models.PositiveIntegerField()
    # Found from the bytes, never taken from the sender.
    content_type = models.CharField(max_length=40)

    def __str__(self) -> str:
        return f"{self.content_type}, {self.size} bytes"


class FileReading(models.Model):
    """What our reader made of a file, once for each way of reading it: a log with what was answered about it, a photo
    drawn anew, the pages of a PDF. Read by a worker in a child process; what it found is kept and never read again."""

    class State(models.TextChoices):
        WAITING = "waiting", "being read"
        READ = "read", "read"
        UNREADABLE = "unreadable", "cannot be read"

    file = models.ForeignKey(EvidenceFile, on_delete=models.PROTECT, related_name="readings")
    # A kind of traveller.decode: log, picture, pdf.
    kind = models.CharField(max_length=12)
    answers = models.JSONField(default=dict)
    key = models.CharField(max_length=32)
    state = models.CharField(max_length=12, choices=State.choices, default=State.WAITING)
    # Whose turn it is: shops in turn, and the phones of a shop in turn.
    site = models.ForeignKey("sites.Site", null=True, on_delete=models.PROTECT, related_name="+")
    phone = models.CharField(max_length=40, default="", blank=True)
    asked_at = models.DateTimeField()
    taken_at = models.DateTimeField(null=True)
    taken_by = models.CharField(max_length=64, default="", blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    read_at = models.DateTimeField(null=True)
    # The message of the decoder, packed, its digest before packing, and the version of the reader.
    content = models.BinaryField(null=True)
    digest = models.CharField(max_length=64, default="", blank=True)
    version = models.PositiveSmallIntegerField(default=0)
    # For a log: the code of what must be asked before it counts, or of why it is no log; empty when it reads well.
    finding = models.CharField(max_length=48, default="", blank=True)
    # Why not: too_slow, too_large, unreadable, ended.
    why = models.CharField(max_length=16, default="", blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["file", "kind", "key"], name="file_read_once_a_way")]
        indexes = [
            # the worker's next, and "nothing has read files since" on every page that names one
            models.Index(fields=["state", "asked_at"], name="file_reading_waiting"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.file_id[:12]}: {self.state}"


class AttachmentKind(models.TextChoices):
    LOG = "log", "temperature log"
    # From inside a part of a full charge, beside the log of the load's air: it tells how well the oven heats.
    CORE = "core", "log from inside a part"
    PHOTO = "photo", "photo"
    CERTIFICATE = "certificate", "certificate"


LOG_KINDS = (AttachmentKind.LOG, AttachmentKind.CORE)


class Attachment(models.Model):
    """A file sent for a step, or for one load of it. `answers` is what was told about how a log is to be read."""

    file = models.ForeignKey(EvidenceFile, on_delete=models.PROTECT, related_name="attachments")
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="attachments")
    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="attachments")
    load = models.ForeignKey(Load, null=True, on_delete=models.PROTECT, related_name="attachments")
    kind = models.CharField(max_length=12, choices=AttachmentKind.choices)
    name = models.CharField(max_length=160)
    answers = models.JSONField(default=dict)
    reading = models.ForeignKey(FileReading, null=True, on_delete=models.PROTECT, related_name="attachments")
    # Rework started its step afresh, or a later file took its place: kept and shown, no longer judged.
    struck_by = models.ForeignKey(Event, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.kind} {self.name}"

    @property
    def is_log(self) -> bool:
        """A logger's file: of a load, or from inside a part."""
        return self.kind in LOG_KINDS
