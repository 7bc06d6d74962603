"""What is known about a step, as the rules want to see it."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal, InvalidOperation

from django.db.models import Max, Min, Q

from traveller.batches.models import Count, Load, Reading, Step, StepState
from traveller.products.frozen import operations_of
from traveller.rules.checks.base import CountEvidence, Evidence, LoadEvidence, ReadingEvidence


def of_step(step: Step, here: int) -> Evidence:
    """All evidence of a step; `here` is what still lies before it, counted with what arrived."""
    every = list(Load.objects.filter(step=step).order_by("number"))
    loads = [load for load in every if load.struck_by_id is None]
    struck = max((load.struck_by_id or 0 for load in every), default=0)
    numbers = {load.pk: load.number for load in loads}
    readings = Reading.objects.filter(step=step, struck_by=None).order_by("id")
    ended, first_ended = _previous_end(step)
    return Evidence(
        loads=tuple(
            LoadEvidence(load.number, load.quantity, load.started_at, load.ended_at, load.late_reason) for load in loads
        ),
        readings=tuple(_reading(row, numbers) for row in readings),
        counts=_counts(step, here, struck),
        said_done=step.state == StepState.DONE,
        open_cavities=tuple(range(1, (step.open_cavities or step.operation.cavities) + 1)),
        previous_ended_at=ended,
        previous_first_ended_at=first_ended,
        started_at=step.started_at,
    )


def _counts(step: Step, here: int, struck: int) -> CountEvidence:
    """Counts of this step's own loads and of no load; those of a load that was split off went with it.

    `struck` is the event that started the step afresh for rework: what was counted since is what the loads
    since then have to cover.
    """
    rows = list(Count.objects.filter(Q(step=step, load=None) | Q(load__step=step)).order_by("id"))
    rows = [row for row in rows if row.event_id > struck]
    first = [row for row in rows if struck or not row.again]
    by_reason: dict[str, int] = {}
    for row in rows:
        for reason, pieces in row.by_reason.items():
            by_reason[reason] = by_reason.get(reason, 0) + pieces
    good, scrap = sum(r.good for r in first), sum(r.scrap for r in first)
    rework, samples = sum(r.rework for r in first), sum(r.samples for r in first)
    return CountEvidence(
        arrived=good + scrap + rework + samples + here,
        good=good,
        scrap=scrap,
        rework=rework,
        samples=samples,
        scrap_before=sum(r.by_reason.get(BEFORE_TEST, 0) for r in first),
        retested=sum(r.good + r.scrap for r in rows if r.again and not struck),
        by_reason=by_reason,
    )


def _previous_end(step: Step) -> tuple[datetime | None, datetime | None]:
    """When the operation before ended: its last load (or the step), and its first load."""
    before = [o for o in operations_of(step.batch.routing_id) if o.number < step.number]
    if not before:
        return None, None
    previous = Step.objects.filter(batch=step.batch, number=before[-1].number).first()
    if previous is None:
        # Split off since: the step before is the parent's.
        parent = step.batch.parent
        previous = Step.objects.filter(batch=parent, number=before[-1].number).first() if parent else None
    if previous is None:
        return None, None
    ends = Load.objects.filter(step=previous, struck_by=None).aggregate(last=Max("ended_at"), first=Min("ended_at"))
    last = ends["last"] or previous.done_at
    return last, ends["first"] or last


# The reason by which a test step tells pieces that were scrapped before they could be tested.
BEFORE_TEST = "before test"


def _reading(row: Reading, numbers: dict[int, int]) -> ReadingEvidence:
    try:
        value, text = Decimal(row.value), ""
    except InvalidOperation:
        value, text = Decimal(0), row.value
    return ReadingEvidence(
        name=row.name,
        value=value,
        unit=row.unit,
        taken_at=row.taken_at,
        load=numbers.get(row.load_id) if row.load_id else None,
        cavity=row.cavity,
        piece=row.piece,
        text=text,
    )
