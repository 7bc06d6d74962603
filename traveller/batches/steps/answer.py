"""What an action answers: the event, and what followed from it. A repeated telling answers the same."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from uuid import uuid5

from traveller.batches.models import Batch, Verdict
from traveller.journal.models import Event
from traveller.ledger.models import Hold

# More judgements than one telling can cause: each parts a load from its lot, or is the last.
MOST_JUDGED = 100
# What the event that a file was read is derived by, from the event that it was sent, or answered about.
READ_NAME = "read"


def judged_name(number: int) -> str:
    """What the number-th judgement that a telling causes is derived by (see EventContext.derived)."""
    return f"judged:{number}"


@dataclass(frozen=True)
class Answer:
    event: Event
    repeated: bool = False

    @cached_property
    def _events(self) -> Sequence[int]:
        """The event, that a file sent with it was read (if it is), and the judgements that both caused."""
        reported = [self.event.uid, uuid5(self.event.uid, READ_NAME)]
        judged = [uuid5(uid, judged_name(number)) for uid in reported for number in range(MOST_JUDGED)]
        return list(Event.objects.filter(uid__in=[*reported, *judged]).values_list("pk", flat=True))

    @cached_property
    def verdicts(self) -> Sequence[Verdict]:
        found = Verdict.objects.filter(event__in=self._events).select_related("load", "step")
        return list(found.order_by("id"))

    @cached_property
    def holds(self) -> Sequence[Hold]:
        found = Hold.objects.filter(opened_event__in=self._events, root=None).select_related("lot")
        return list(found.order_by("id"))

    @cached_property
    def children(self) -> Sequence[Batch]:
        """Batches split off because their pieces were treated differently."""
        found = Batch.objects.filter(released_event__in=self._events, parent__isnull=False)
        return list(found.order_by("id"))
