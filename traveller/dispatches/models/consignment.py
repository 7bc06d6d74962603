"""Goods between sites."""

from __future__ import annotations

from django.db import models

from sites.models import Site
from traveller.journal.models import Event, Subject
from traveller.ledger.models import Lot


class SentFor(models.TextChoices):
    PROCESSING = "processing", "for processing"
    FREE_ISSUE = "free issue", "free issue"
    STOCK = "stock", "to stock"
    RETURN = "return", "return"


class Consignment(models.Model):
    subject = models.OneToOneField(Subject, on_delete=models.PROTECT, related_name="consignment")
    code = models.CharField(max_length=7, unique=True)
    origin = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    destination = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    purpose = models.CharField(max_length=12, choices=SentFor.choices)
    carrier = models.CharField(max_length=80, blank=True)
    owner = models.CharField(max_length=80, blank=True)
    # What comes back empty: totes, trays, racks.
    returnables = models.CharField(max_length=120, blank=True)
    # A remark of the sender; of a return, why.
    note = models.CharField(max_length=200, blank=True)
    # The totes carry their quantity: who counts them has seen it.
    shown = models.BooleanField(default=False)
    sent_event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="+")
    sent_at = models.DateTimeField()
    # Set when nothing of it is on the road any more: every line was counted, closed short, or taken back.
    received_at = models.DateTimeField(null=True)
    note_serial = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-id"]
        indexes = [
            # The operator's "coming" list and the founder's "on the road". Ordered as they are, or SQLite would take
            # the plain index on the destination, with all that ever came there.
            models.Index(fields=["destination", "sent_at"], name="coming_here", condition=models.Q(received_at=None)),
        ]

    def __str__(self) -> str:
        return f"consignment {self.code}"


class ConsignmentLine(models.Model):
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="lines")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+")
    # The last step done where it was taken from the shelf; 0: all of them, or nothing to do (material).
    from_step = models.PositiveIntegerField(default=0)
    # The step it travels to; 0: to stock.
    to_step = models.PositiveIntegerField(default=0)
    sent = models.PositiveBigIntegerField()
    sent_method = models.CharField(max_length=8, default="hand")
    sent_sample = models.PositiveIntegerField(default=0)
    # How it was weighed (dispatches.weighed); empty where it was not.
    sent_scale = models.JSONField(default=dict)
    # How many lie in each tote, where they were told one by one.
    totes = models.JSONField(default=list)
    received = models.PositiveBigIntegerField(default=0)
    received_method = models.CharField(max_length=8, blank=True)
    received_sample = models.PositiveIntegerField(default=0)
    received_scale = models.JSONField(default=dict)
    # Counted at a site that it was not sent to; what is still on the road is sent - received - astray.
    misdirected = models.PositiveBigIntegerField(default=0)
    # When the rest of a line that came in part is to come.
    rest_due = models.DateField(null=True)
    # The receiver had the sender's figure before counting.
    seen = models.BooleanField(default=False)
    closed = models.BooleanField(default=False)
    # Signed rest that stands in `unexplained` until settled: sent - received, outside what counting resolves.
    difference = models.BigIntegerField(default=0)
    settled_event = models.ForeignKey(Event, null=True, on_delete=models.PROTECT, related_name="+")
    # The sender took it back while nothing of it was counted: it never left, and the line is closed.
    taken_back_event = models.ForeignKey(Event, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        indexes = [
            # What may still come to a shelf, among the lines of years.
            models.Index(fields=["to_step", "id"], name="open_lines", condition=models.Q(closed=False)),
        ]

    def __str__(self) -> str:
        return f"{self.sent} of lot {self.lot_id}"

    @property
    def remaining(self) -> int:
        """What of it is still on the road; less than nothing where more has come already."""
        return self.sent - self.received - self.misdirected
