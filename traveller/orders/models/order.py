"""Customer orders, what was planned and released for them, and what is reserved."""

from __future__ import annotations

from django.db import models

from sites.models import Site
from traveller.batches.models import Batch
from traveller.journal.models import Event, Subject
from traveller.ledger.models import Lot
from traveller.products.models import Part


class Order(models.Model):
    subject = models.OneToOneField(Subject, on_delete=models.PROTECT, related_name="order")
    number = models.CharField(max_length=40, unique=True)
    customer = models.CharField(max_length=120)
    ship_to = models.TextField(blank=True)
    placed_on = models.DateField()
    closed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"order {self.number}"


class OrderLine(models.Model):
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="lines")
    number = models.PositiveIntegerField()
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveIntegerField()
    due_on = models.DateField()
    over_ppm = models.PositiveIntegerField(default=0)
    under_ppm = models.PositiveIntegerField(default=0)
    # What was planned and released so far; a line raised later is released again for the rest.
    released = models.PositiveIntegerField(default=0)
    released_event = models.ForeignKey(Event, null=True, on_delete=models.PROTECT, related_name="+")
    packed = models.PositiveIntegerField(default=0)
    shipped = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["order", "number"]
        constraints = [models.UniqueConstraint(fields=["order", "number"], name="order_line_once")]

    def __str__(self) -> str:
        return f"line {self.number} of order {self.order_id}"


class Release(models.Model):
    """The plan as the founder released it, frozen with its assumptions."""

    event = models.OneToOneField(Event, on_delete=models.PROTECT, related_name="release")
    plan = models.JSONField()

    def __str__(self) -> str:
        return f"release {self.event_id}"


class BatchShare(models.Model):
    """How many of a batch's wanted pieces are for an order line; a batch may serve several lines."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="shares")
    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="shares")
    quantity = models.PositiveIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["batch", "line"], name="share_once")]

    def __str__(self) -> str:
        return f"{self.quantity} of batch {self.batch_id} for line {self.line_id}"


class Reservation(models.Model):
    """Stock kept for an order line since its release; `left` shrinks as the stock is packed.

    What the line's own batches have consumed since is read from the genealogy (orders.reserved), since no
    shop that reports a count knows of orders.
    """

    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="reservations")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="reservations")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveBigIntegerField()
    packed = models.PositiveBigIntegerField(default=0)
    left = models.PositiveBigIntegerField()
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["line", "lot", "site"], name="reservation_once")]
        indexes = [
            # Free stock = stock - what is still reserved.
            models.Index(fields=["lot"], name="open_reservations", condition=models.Q(left__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.left} of lot {self.lot_id} for line {self.line_id}"


class Need(models.Model):
    """A bought part that a released line still waits for; `left` shrinks as deliveries are reserved for it."""

    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="needs")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveBigIntegerField()
    left = models.PositiveBigIntegerField()
    needed_on = models.DateField(null=True)
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["line", "part"], name="need_once")]
        indexes = [
            # A delivery asks: who waits for this part?
            models.Index(fields=["part"], name="open_needs", condition=models.Q(left__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.left} of part {self.part_id} for line {self.line_id}"


class Purchase(models.Model):
    """Bought parts or material, to be delivered to a site."""

    subject = models.OneToOneField(Subject, on_delete=models.PROTECT, related_name="purchase")
    code = models.CharField(max_length=7, unique=True)
    supplier = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    deliver_to = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveBigIntegerField()
    received = models.PositiveBigIntegerField(default=0)
    due_on = models.DateField(null=True, blank=True)
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"purchase {self.code}"
