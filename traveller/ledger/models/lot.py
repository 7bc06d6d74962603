"""Lots, the holds on them, and which lot went into which."""

from __future__ import annotations

from django.db import models

from traveller.journal.models import Event, Subject
from traveller.products.models import Part


class Lot(models.Model):
    """An identified quantity of one part. Sending a part of it ahead is no split: it lies in two places."""

    subject = models.OneToOneField(Subject, on_delete=models.PROTECT, related_name="lot")
    code = models.CharField(max_length=7, unique=True)
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="lots")
    # How it came to be: a batch, a purchase, opening stock, a split of another lot.
    origin = models.CharField(max_length=12)
    outside_number = models.CharField(max_length=60, blank=True)
    born_event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="+")
    born_at = models.DateTimeField()
    expires_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        indexes = [
            # Stock page and proposals: lots of a part, first expired first.
            models.Index(fields=["part", "expires_on"], name="lot_by_part_and_expiry"),
        ]

    def __str__(self) -> str:
        return f"lot {self.code}"


class Hold(models.Model):
    """A lot is free when none of its holds is open. `root` is the hold it was inherited from."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="holds")
    # What asked for it: a check's key, or "founder", "problem", "over tolerance" ...
    cause = models.CharField(max_length=48)
    code = models.CharField(max_length=48)
    figures = models.JSONField(default=dict)
    root = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="inherited")
    opened_event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField()
    closed_event = models.ForeignKey(Event, null=True, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True)
    # concession, rework, scrap, regrade, return, evidence (the missing proof arrived)
    disposition = models.CharField(max_length=16, blank=True)
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["id"]
        indexes = [
            # Every gate asks: is there an open hold on this lot?
            models.Index(fields=["lot"], name="open_holds", condition=models.Q(closed_at=None)),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["lot", "cause"],
                condition=models.Q(closed_at=None, root=None),
                name="one_open_hold_per_cause",
            ),
            models.UniqueConstraint(
                fields=["lot", "root"],
                condition=models.Q(closed_at=None),
                name="one_open_hold_per_root",
            ),
        ]

    def __str__(self) -> str:
        return f"hold on {self.lot_id}: {self.code}"


class Link(models.Model):
    """`child` was made from `parent`: a signed quantity of the parent (a correction posts a negative one)."""

    parent = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="went_into")
    child = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="made_of")
    quantity = models.BigIntegerField()
    # From the bill, nobody scanned it: traces to all candidates, those with quantity 0 included.
    inferred = models.BooleanField(default=False)
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [
            models.Index(fields=["parent", "child"], name="trace_forward"),
            models.Index(fields=["child", "parent"], name="trace_back"),
        ]

    def __str__(self) -> str:
        return f"{self.parent_id} into {self.child_id}"
