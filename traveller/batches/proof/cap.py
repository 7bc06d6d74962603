"""How many pieces may still be made before somebody has approved the first?"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from traveller.batches.models import Step
from traveller.batches.proof import evidence
from traveller.batches.proof.first_piece import asked_of


def cap_of(step: Step, at: datetime) -> int | None:
    """How many more pieces may be made at a step before the founder approves its first piece, as it stands at `at`.

    None: as many as are wanted. Said and asked about before news; the news itself is taken all the same.
    """
    asked = asked_of(step.operation_id)
    if not any(plan.terms.cap is not None for plan in asked):
        return None
    known = evidence.of_step(step, hangs_on_before=False, first_pieces=[plan.terms for plan in asked])
    if known.started_at is None:
        known = replace(known, started_at=at)
    caps = [plan.kind.allowed(plan.params, known) for plan in asked]
    return min((cap for cap in caps if cap is not None), default=None)
