"""A site: a shop, a supplier or the maker's own bench."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from django.db import models


class SiteKind(models.TextChoices):
    OWN = "own", "own bench"
    SUBCONTRACTOR = "subcontractor", "subcontractor"
    SUPPLIER = "supplier", "supplier"


class Site(models.Model):
    code = models.SlugField(max_length=24, unique=True)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=16, choices=SiteKind.choices)
    timezone = models.CharField(max_length=64, default="UTC")
    language = models.CharField(max_length=12, default="en")
    country = models.CharField(max_length=2, blank=True)
    address = models.TextField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    contact = models.CharField(max_length=80, blank=True)
    paper = models.CharField(max_length=8, default="A4", choices=[("A4", "A4"), ("Letter", "Letter")])
    # Working days a batch usually stays here: what "silent longer than usual" and due dates are counted with.
    turnaround_days = models.PositiveIntegerField(default=3)
    shifts = models.CharField(max_length=200, default="Mo-Fr 08:00-16:30")
    # From this day on nothing is done there any more; what still lies there is fetched or written off.
    closed_on = models.DateField(null=True, blank=True)
    closed_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.timezone)


class Closure(models.Model):
    """Days on which a site is shut: public holidays, yearly closures."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="closures")
    first_day = models.DateField()
    last_day = models.DateField()
    name = models.CharField(max_length=80)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "first_day", "last_day"], name="closure_once_per_site"),
            models.CheckConstraint(
                condition=models.Q(last_day__gte=models.F("first_day")), name="closure_ends_after_it_begins"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.site_id}: {self.first_day} {self.name}"


class Lane(models.Model):
    """How goods get from one site to another, and how many working days it takes."""

    origin = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="lanes_out")
    destination = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="lanes_in")
    transit_days = models.PositiveIntegerField(default=1)
    carrier = models.CharField(max_length=80, blank=True)
    # How much more than was ordered of a batch is taken without asking, in ppm of it; None: any quantity.
    over_ppm = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["origin", "destination"], name="one_lane_each_way")]

    def __str__(self) -> str:
        return f"{self.origin_id} to {self.destination_id}"
