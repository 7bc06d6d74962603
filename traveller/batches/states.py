"""How a step's state moves: waiting, running, done. News can come late, so nothing here refuses."""

from __future__ import annotations

from datetime import datetime

from traveller.batches.models import Step, StepState


def begin(step: Step, at: datetime) -> None:
    if step.state == StepState.WAITING:
        step.state = StepState.RUNNING
    if step.started_at is None or at < step.started_at:
        step.started_at = at


def finish(step: Step, at: datetime) -> None:
    begin(step, at)
    step.state = StepState.DONE
    step.done_at = at
