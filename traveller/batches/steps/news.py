"""News of a step stands under its batch, and belongs to the site where the step is done."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from traveller.batches.models import Step
from traveller.journal.models import Event
from traveller.journal.record import record
from traveller.journal.stamp import Stamp


def record_at(step: Step, *, stamp: Stamp, kind: str, told: Mapping[str, Any], **found: Any) -> Event:
    """Write one event of a step; `told` and `found` as in `journal.record`."""
    return record(
        stamp=stamp,
        kind=kind,
        subjects=[step.batch.subject_id],
        told=told,
        site_id=step.site_id,
        number=step.number,
        step_id=step.pk,
        **found,
    )
