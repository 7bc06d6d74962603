"""What the founder decided on the first pieces of a set-up, and for which set-up it was decided."""

from __future__ import annotations

from django.db import models

from traveller.batches.models.batch import Step
from traveller.journal.models import Event
from traveller.products.models import Part


class FirstPiece(models.Model):
    """Approved or refused, once and for the same operation of the part's later batches; the reason is the event's."""

    event = models.OneToOneField(Event, on_delete=models.PROTECT, related_name="first_piece")
    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="first_pieces")
    # Of the step, so that the part's next batch finds it without a join.
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    approved = models.BooleanField()
    decided_at = models.DateTimeField()
    # rules.checks.base.MadeWith as it was then
    made_with = models.JSONField(default=dict)

    class Meta:
        ordering = ["decided_at", "id"]
        indexes = [
            # Each judgement of a first piece asks for the latest decision on its operation.
            models.Index(fields=["part", "number", "decided_at"], name="first_pieces_of_operation"),
        ]

    def __str__(self) -> str:
        return f"first-off of step {self.step_id}: {'approved' if self.approved else 'refused'}"
