"""How a step's state moves: waiting, running, done. News can come late, so nothing here refuses."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from traveller.batches.models import Load, Step, StepState


def begin(step: Step, at: datetime) -> None:
    if step.state == StepState.WAITING:
        step.state = StepState.RUNNING
    if step.started_at is None or at < step.started_at:
        step.started_at = at


def finish(step: Step, at: datetime) -> None:
    begin(step, at)
    step.state = StepState.DONE
    step.done_at = at


def move(step: Step, what: str, value: Any) -> None:
    """One move of a step's state, by name, as a journal told again makes it."""
    match what:
        case "begin":
            begin(step, value)
        case "finish":
            finish(step, value)
        case "cavities":
            step.open_cavities = value
        case "state":
            step.state = value
        case "counted apart":
            step.state, step.done_at = StepState.DONE, value
        case "born":
            step.state, step.started_at = StepState.RUNNING, value
        case "again" if step.state != StepState.WAITING:
            step.state, step.done_at = StepState.RUNNING, None


def end(load: Load, at: datetime, started: datetime | None, reason: str) -> None:
    """A load came out; `started` corrects when it went in."""
    load.ended_at, load.late_reason = at, reason
    if started:
        load.started_at = started
