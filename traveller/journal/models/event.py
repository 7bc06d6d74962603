"""Events: append-only; the database refuses to change or delete them (journal.guards)."""

from __future__ import annotations

import uuid

from django.db import models

from sites.actor import PHONE_LETTERS
from sites.models import Site, SitePass


class Subject(models.Model):
    """A thing that events are about: its kind, and the short code printed on its papers."""

    uid = models.UUIDField(unique=True, default=uuid.uuid4)
    kind = models.CharField(max_length=16)
    code = models.CharField(max_length=7, unique=True, null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.kind} {self.code or self.uid}"


class Event(models.Model):
    """`uid` is made by whoever tells it, so that the same telling twice is one event."""

    uid = models.UUIDField(unique=True)
    kind = models.CharField(max_length=32)
    site = models.ForeignKey(Site, null=True, on_delete=models.PROTECT, related_name="+")
    actor_kind = models.CharField(max_length=12)
    person = models.CharField(max_length=80)
    site_pass = models.ForeignKey(SitePass, null=True, on_delete=models.PROTECT, related_name="+")
    on_behalf = models.BooleanField(default=False)
    # Which of a site's phones told it, by an id that it carries: no proof, and empty where no phone did.
    phone = models.CharField(max_length=PHONE_LETTERS, blank=True, default="")
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    device_offset_ms = models.BigIntegerField(null=True)
    data = models.JSONField(default=dict)
    corrects = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="corrections")
    digest = models.CharField(max_length=64)

    class Meta:
        ordering = ["id"]
        indexes = [
            # "last heard from" per site on the founder's first page
            models.Index(fields=["site", "-recorded_at"], name="event_last_heard"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.uid}"


class EventSubject(models.Model):
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="about")
    subject = models.ForeignKey(Subject, on_delete=models.PROTECT, related_name="mentions")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["subject", "event"], name="subject_once_per_event")]

    def __str__(self) -> str:
        return f"{self.event_id} about {self.subject_id}"


class Parked(models.Model):
    """News that was taken but could not be posted yet: visible with its reason until its cause arrives."""

    event = models.OneToOneField(Event, on_delete=models.PROTECT, related_name="parked")
    reason = models.CharField(max_length=48)
    figures = models.JSONField(default=dict)
    settled_by = models.ForeignKey(Event, null=True, on_delete=models.PROTECT, related_name="settles_parked")

    def __str__(self) -> str:
        return f"{self.reason}: {self.event_id}"
