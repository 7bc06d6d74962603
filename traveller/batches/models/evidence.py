"""What was counted and measured at a step, and what the rules said of it."""

from __future__ import annotations

from django.db import models

from traveller.batches.models.batch import Batch, Load, Step
from traveller.journal.models import Event


class Count(models.Model):
    """One report's figures. `again`: these pieces came out of rework. A correction's row is signed."""

    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="counts")
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="counts")
    load = models.ForeignKey(Load, null=True, on_delete=models.PROTECT, related_name="counts")
    again = models.BooleanField(default=False)
    good = models.IntegerField(default=0)
    scrap = models.IntegerField(default=0)
    rework = models.IntegerField(default=0)
    samples = models.IntegerField(default=0)
    # reason -> pieces; sums to scrap
    by_reason = models.JSONField(default=dict)
    shots = models.IntegerField(default=0)
    # How many cavities made these pieces; 0: nobody said, or it is no mould.
    open_cavities = models.PositiveIntegerField(default=0, db_default=0)

    def __str__(self) -> str:
        return f"{self.good} good, {self.scrap} scrap at step {self.step_id}"


class Reading(models.Model):
    """A measured value exactly as typed: a decimal as text, with its unit."""

    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="readings")
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="readings")
    load = models.ForeignKey(Load, null=True, on_delete=models.PROTECT, related_name="readings")
    check_key = models.CharField(max_length=32)
    name = models.CharField(max_length=40)
    value = models.CharField(max_length=60)
    unit = models.CharField(max_length=12, blank=True)
    cavity = models.PositiveIntegerField(null=True)
    piece = models.PositiveIntegerField(null=True)
    taken_at = models.DateTimeField()
    # A later correction struck it: kept, shown crossed out, no longer judged.
    struck_by = models.ForeignKey(Event, null=True, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.name} {self.value} {self.unit}"


class Verdict(models.Model):
    """What a check said of a step (or of one load of it) after an event; the latest counts."""

    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="verdicts")
    check_key = models.CharField(max_length=32)
    load = models.ForeignKey(Load, null=True, on_delete=models.PROTECT, related_name="verdicts")
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="verdicts")
    outcome = models.CharField(max_length=8)
    code = models.CharField(max_length=48)
    figures = models.JSONField(default=dict)
    # The founder's concession turned it: kept beside the outcome, never instead of it.
    conceded_event = models.ForeignKey(Event, null=True, on_delete=models.PROTECT, related_name="+")
    latest = models.BooleanField(default=True)

    class Meta:
        indexes = [
            models.Index(fields=["step", "check_key"], name="latest_verdicts", condition=models.Q(latest=True)),
        ]

    def __str__(self) -> str:
        return f"{self.check_key}: {self.outcome}"


class TravellerPrint(models.Model):
    """Each print of a batch's traveller; a later one replaces it, an old one still resolves and says so."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="prints")
    serial = models.PositiveIntegerField()
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="+")
    address = models.CharField(max_length=200)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["batch", "serial"], name="print_serial_once")]

    def __str__(self) -> str:
        return f"print {self.serial} of batch {self.batch_id}"
