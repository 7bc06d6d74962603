"""Pieces from shots: shots x the cavities that were open at that time; a page adds the shots of now."""

from __future__ import annotations

from traveller.batches.history.built_on import still_standing
from traveller.batches.models import Step
from traveller.journal.models import Event

_Run = tuple[int, int]


def runs_since_count(step: Step) -> list[_Run]:
    """(shots, cavities) told with each change of the cavities since the last count at this step, oldest first."""
    reported = still_standing(Event.objects.filter(about__subject=step.batch.subject_id, data__step_id=step.pk))
    last = reported.filter(kind="counted").order_by("-id").values_list("pk", flat=True).first() or 0
    changes = reported.filter(kind="cavities changed", pk__gt=last).order_by("id")
    runs = [(event.data["told"]["shots"], event.data["before"]) for event in changes]
    return [(shots, cavities) for shots, cavities in runs if shots]
