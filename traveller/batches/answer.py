"""What an action answers: the event, and what followed from it. A repeated telling answers the same."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from traveller.batches.models import Batch, Verdict
from traveller.journal.models import Event
from traveller.ledger.models import Hold


@dataclass(frozen=True)
class Answer:
    event: Event
    repeated: bool = False

    @cached_property
    def verdicts(self) -> Sequence[Verdict]:
        return list(Verdict.objects.filter(event=self.event).select_related("load", "step").order_by("id"))

    @cached_property
    def holds(self) -> Sequence[Hold]:
        return list(
            Hold.objects.filter(opened_event=self.event, root=None).select_related("lot").order_by("id")
        )

    @cached_property
    def children(self) -> Sequence[Batch]:
        """Batches split off because their pieces were treated differently."""
        return list(Batch.objects.filter(released_event=self.event, parent__isnull=False).order_by("id"))
