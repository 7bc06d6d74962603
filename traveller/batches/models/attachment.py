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


class AttachmentKind(models.TextChoices):
    LOG = "log", "temperature log"
    PHOTO = "photo", "photo"
    CERTIFICATE = "certificate", "certificate"


class Attachment(models.Model):
    """A file sent for a step, or for one load of it. `answers` is what was told about how a log is to be read."""

    file = models.ForeignKey(EvidenceFile, on_delete=models.PROTECT, related_name="attachments")
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="attachments")
    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="attachments")
    load = models.ForeignKey(Load, null=True, on_delete=models.PROTECT, related_name="attachments")
    kind = models.CharField(max_length=12, choices=AttachmentKind.choices)
    name = models.CharField(max_length=160)
    answers = models.JSONField(default=dict)
    # Rework started its step afresh, or a later file took its place: kept and shown, no longer judged.
    struck_by = models.ForeignKey(Event, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.kind} {self.name}"
