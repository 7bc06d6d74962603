"""What a subcontractor calls a lot in its own books."""

from __future__ import annotations

from django.db import models

from sites.models import Site
from traveller.journal.models import Event
from traveller.ledger.models import Lot


class OwnNumber(models.Model):
    """A site's own lot number; a lot may have several, of several sites, and each finds it."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="own_numbers")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    number = models.CharField(max_length=60)
    event = models.ForeignKey(Event, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["lot", "site", "number"], name="own_number_once")]
        indexes = [
            # Found by whoever types or scans it.
            models.Index(fields=["number"], name="lot_by_own_number"),
        ]

    def __str__(self) -> str:
        return f"{self.number} of site {self.site_id}"
