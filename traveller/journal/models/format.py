"""Which format the records of this database are in: one row."""

from __future__ import annotations

from django.db import models


class Format(models.Model):
    """The highest `journal.format.FORMAT` of any release that brought this database up to date."""

    number = models.PositiveIntegerField()

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="one_format")]

    def __str__(self) -> str:
        return f"format {self.number}"
