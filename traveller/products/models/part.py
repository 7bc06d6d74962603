"""Parts and what they are made of."""

from __future__ import annotations

from django.db import models

from sites.models import Site


class PartKind(models.TextChoices):
    MADE = "made", "made"
    BOUGHT = "bought", "bought"
    MATERIAL = "material", "material"


class StockUnit(models.TextChoices):
    """Codes of UN/ECE Recommendation 20."""

    PIECE = "C62", "piece"
    GRAM = "GRM", "gram"
    MILLIGRAM = "MGM", "milligram"
    MILLIMETRE = "MMT", "millimetre"
    MILLILITRE = "MLT", "millilitre"


class Part(models.Model):
    number = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    variant = models.CharField(max_length=40, blank=True)
    colour = models.CharField(max_length=40, blank=True)
    swatch = models.CharField(max_length=7, blank=True)
    revision = models.CharField(max_length=16, default="A")
    kind = models.CharField(max_length=12, choices=PartKind.choices)
    unit = models.CharField(max_length=3, choices=StockUnit.choices, default=StockUnit.PIECE)
    piece_mass_mg = models.PositiveIntegerField(null=True, blank=True)
    shelf_life_days = models.PositiveIntegerField(null=True, blank=True)
    supplier = models.ForeignKey(Site, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    picture = models.BinaryField(null=True, blank=True)
    picture_type = models.CharField(max_length=20, blank=True)
    picture_digest = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return self.title

    @property
    def title(self) -> str:
        return f"{self.name}, {self.variant}" if self.variant else self.name
