"""Kit checks, cartons, and shipments to customers."""

from __future__ import annotations

from django.db import models

from sites.models import Site
from traveller.journal.models import Event, Subject
from traveller.ledger.models import Lot
from traveller.orders.models import Order, OrderLine


class Shipment(models.Model):
    subject = models.OneToOneField(Subject, on_delete=models.PROTECT, related_name="shipment")
    code = models.CharField(max_length=7, unique=True)
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="shipments")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    carrier = models.CharField(max_length=80, blank=True)
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="+")
    shipped_at = models.DateTimeField()

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"shipment {self.code}"


class Carton(models.Model):
    subject = models.OneToOneField(Subject, on_delete=models.PROTECT, related_name="carton")
    code = models.CharField(max_length=7, unique=True)
    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="cartons")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    # Finished pieces inside.
    quantity = models.PositiveIntegerField()
    packer = models.CharField(max_length=80)
    packed_event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="+")
    packed_at = models.DateTimeField()
    shipment = models.ForeignKey(Shipment, null=True, on_delete=models.PROTECT, related_name="cartons")
    opened_event = models.ForeignKey(Event, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"carton {self.code}"


class CartonLot(models.Model):
    """What went into a carton, by lot: the finished pieces and what is added at packing."""

    carton = models.ForeignKey(Carton, on_delete=models.PROTECT, related_name="lots")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="in_cartons")
    quantity = models.PositiveBigIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["carton", "lot"], name="lot_once_per_carton")]

    def __str__(self) -> str:
        return f"{self.quantity} of lot {self.lot_id} in {self.carton_id}"
