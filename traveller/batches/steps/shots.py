"""Pieces from shots: the sum of shots x cavities that were open at that time."""

from __future__ import annotations

from collections.abc import Iterable

from traveller.batches.history.built_on import standing
from traveller.batches.models import Step
from traveller.journal.models import Event

Run = tuple[int, int]


def runs_since_count(step: Step) -> list[Run]:
    """(shots, cavities) told with each change of the cavities since the last count at this step, oldest first."""
    told = standing(Event.objects.filter(about__subject=step.batch.subject_id, data__step_id=step.pk))
    last = told.filter(kind="counted").order_by("-id").values_list("pk", flat=True).first() or 0
    changes = told.filter(kind="cavities changed", pk__gt=last).order_by("id")
    runs = [(event.data["told"]["shots"], event.data["before"]) for event in changes]
    return [(shots, cavities) for shots, cavities in runs if shots]


def pieces(runs: Iterable[Run]) -> int:
    """Pieces of runs, each with its own number of open cavities."""
    return sum(shots * cavities for shots, cavities in runs)


def pieces_of(step: Step, shots: int) -> int:
    """Pieces since the last count, where `shots` were made with the cavities that are open now."""
    now = step.open_cavities or step.operation.cavities or 1
    return pieces([*runs_since_count(step), (shots, now)])
