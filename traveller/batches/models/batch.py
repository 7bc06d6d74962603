"""Batches, their steps and loads."""

from __future__ import annotations

from django.db import models

from sites.models import Site
from traveller.journal.models import Event, Subject
from traveller.ledger.models import Lot
from traveller.products.models import Operation, Part, Routing


class Batch(models.Model):
    """A quantity of one part on its way through one frozen routing; it shares code and subject with its lot."""

    subject = models.OneToOneField(Subject, on_delete=models.PROTECT, related_name="batch")
    code = models.CharField(max_length=7, unique=True)
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="batches")
    routing = models.ForeignKey(Routing, on_delete=models.PROTECT, related_name="batches")
    # None until the first report: the lot is born then.
    lot = models.OneToOneField(Lot, null=True, on_delete=models.PROTECT, related_name="batch")
    wanted = models.PositiveIntegerField()
    start = models.PositiveIntegerField()
    # Where its good pieces are wanted once all steps are done.
    destination = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    due_on = models.DateField(null=True)
    released_event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="+")
    released_at = models.DateTimeField()
    parent = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="children")
    # Set when nothing of it is left to do: all steps done and nothing in process.
    closed_at = models.DateTimeField(null=True)
    print_serial = models.PositiveIntegerField(default=0)
    # A step of it is done at another site than its frozen routing says: then the steps say where.
    rerouted = models.BooleanField(default=False, db_default=False)

    class Meta:
        ordering = ["id"]
        indexes = [
            # Every list of what is under way, among the closed batches of years.
            models.Index(fields=["id"], name="open_batches", condition=models.Q(closed_at=None)),
        ]

    def __str__(self) -> str:
        return f"batch {self.code}"


class StepState(models.TextChoices):
    WAITING = "waiting", "waiting"
    RUNNING = "running", "running"
    DONE = "done", "done"


class Step(models.Model):
    """One operation of one batch. Counts are first entries; what comes out of rework is counted apart."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="steps")
    operation = models.ForeignKey(Operation, on_delete=models.PROTECT, related_name="+")
    # Copied from the frozen operation, so that lists by site need no join.
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    state = models.CharField(max_length=8, choices=StepState.choices, default=StepState.WAITING)
    started_at = models.DateTimeField(null=True)
    done_at = models.DateTimeField(null=True)
    good = models.PositiveIntegerField(default=0)
    scrap = models.PositiveIntegerField(default=0)
    rework = models.PositiveIntegerField(default=0)
    samples = models.PositiveIntegerField(default=0)
    again_good = models.PositiveIntegerField(default=0)
    again_scrap = models.PositiveIntegerField(default=0)
    shots = models.PositiveIntegerField(default=0)
    open_cavities = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["batch", "number"]
        constraints = [models.UniqueConstraint(fields=["batch", "number"], name="step_number_once")]
        indexes = [
            # The operator's list: what is open at this site.
            models.Index(fields=["site", "state"], name="steps_here"),
        ]

    def __str__(self) -> str:
        return f"step {self.number} of batch {self.batch_id}"


class Load(models.Model):
    """What is done to many pieces at once: a fixture filling, a press closing, an oven charge."""

    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="loads")
    uid = models.UUIDField(unique=True)
    number = models.PositiveIntegerField()
    quantity = models.PositiveIntegerField(default=0)
    place = models.CharField(max_length=60, blank=True)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    late_reason = models.CharField(max_length=200, blank=True)
    # Rework started its step afresh: kept and shown, no longer judged.
    struck_by = models.ForeignKey(Event, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["step", "number"]
        constraints = [models.UniqueConstraint(fields=["step", "number"], name="load_number_once")]

    def __str__(self) -> str:
        return f"load {self.number} of step {self.step_id}"
