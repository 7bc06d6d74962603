"""Routings with their bills and checks: frozen once a batch was released with them; a change makes the next."""

from __future__ import annotations

from django.db import models

from sites.models import Site
from traveller.products.models.part import Part


class Routing(models.Model):
    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="routings")
    revision = models.PositiveIntegerField(default=1)
    # Digest of bill, operations and checks: an import that changes nothing makes no revision.
    digest = models.CharField(max_length=64)

    class Meta:
        ordering = ["part", "-revision"]
        constraints = [models.UniqueConstraint(fields=["part", "revision"], name="routing_revision_once")]

    def __str__(self) -> str:
        return f"{self.part_id} routing {self.revision}"


class BillLine(models.Model):
    """What one thousand pieces made by a routing need of a component, in the component's base unit."""

    routing = models.ForeignKey(Routing, on_delete=models.CASCADE, related_name="bill")
    component = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="used_in")
    per_thousand = models.PositiveBigIntegerField()
    # The operation number at which it is consumed; 0: it is added at packing.
    step = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["routing", "step", "component"]
        constraints = [models.UniqueConstraint(fields=["routing", "component", "step"], name="component_once_per_step")]

    def __str__(self) -> str:
        return f"routing {self.routing_id} needs {self.component_id}"


class OperationKind(models.TextChoices):
    PREPARE = "prepare", "prepares material; no pieces yet"
    MAKE = "make", "makes pieces"
    WORK = "work", "works on pieces"


class Operation(models.Model):
    routing = models.ForeignKey(Routing, on_delete=models.CASCADE, related_name="operations")
    number = models.PositiveIntegerField()
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    verb = models.CharField(max_length=60)
    kind = models.CharField(max_length=8, choices=OperationKind.choices)
    # Class of work (drying, moulding, curing ...): chooses the cautions.
    work = models.CharField(max_length=16, default="other")
    yield_ppm = models.PositiveIntegerField(default=1_000_000)
    # Good pieces of a batch that leave it at this step: used up by a test; kept as retained samples or masters.
    destroyed = models.PositiveIntegerField(default=0)
    kept = models.PositiveIntegerField(default=0)
    cavities = models.PositiveIntegerField(default=0)
    load_size = models.PositiveIntegerField(default=0)
    startup_shots = models.PositiveIntegerField(default=0)
    tool = models.CharField(max_length=60, blank=True)
    cycle_seconds = models.PositiveIntegerField(default=0)
    setup_minutes = models.PositiveIntegerField(default=0)
    instruction = models.CharField(max_length=300, blank=True)
    scrap_reasons = models.JSONField(default=list)

    class Meta:
        ordering = ["routing", "number"]
        constraints = [
            models.UniqueConstraint(fields=["routing", "number"], name="operation_number_once"),
            models.CheckConstraint(
                condition=models.Q(yield_ppm__gt=0, yield_ppm__lte=1_000_000), name="yield_is_a_share"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.verb}"

    @property
    def taken(self) -> int:
        """Good pieces that leave a batch here by plan, whatever for."""
        return self.destroyed + self.kept


class Check(models.Model):
    """What an operation must show; parameters as the kind in rules.checks dumps them."""

    operation = models.ForeignKey(Operation, on_delete=models.CASCADE, related_name="checks")
    key = models.SlugField(max_length=32)
    kind = models.CharField(max_length=24)
    scope = models.CharField(max_length=8)
    blocks = models.CharField(max_length=12)
    parameters = models.JSONField(default=dict)
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["operation", "id"]
        constraints = [models.UniqueConstraint(fields=["operation", "key"], name="check_key_once")]

    def __str__(self) -> str:
        return f"{self.key} ({self.kind})"
