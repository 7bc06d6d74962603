"""News of a step stands under its batch, and belongs to the site where the step is done."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from traveller.batches.models import Step
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import record


def record_at(
    step: Step, *, event_context: EventContext, kind: str, reported: Mapping[str, Any], **found: Any
) -> Event:
    """Write one event of a step; `reported` and `found` as in `journal.record`."""
    return record(
        event_context=event_context,
        kind=kind,
        subjects=[step.batch.subject_id],
        reported=reported,
        site_id=step.site_id,
        number=step.number,
        step_id=step.pk,
        **found,
    )
