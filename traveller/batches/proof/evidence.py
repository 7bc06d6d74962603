"""What is known about a step, as the rules want to see it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from django.db.models import Count as Rows
from django.db.models import Exists, Max, Min, OuterRef, Q, QuerySet, Subquery, Sum

from traveller.batches.files.decoded import log_of
from traveller.batches.models import Attachment, Batch, Count, Load, Reading, Step, StepState
from traveller.batches.proof.first_off import NOT_ASKED, approvals, open_cavities
from traveller.batches.proof.materials import used_at
from traveller.batches.proof.tester import BEFORE_TEST, NOTHING, asked_of, bench_of
from traveller.journal.rows import Read
from traveller.ledger.models import Account, Condition
from traveller.products.frozen import operations_of
from traveller.rules.checks.approval import ApprovalParams
from traveller.rules.checks.base import CountEvidence, Evidence, LoadEvidence, ReadingEvidence
from traveller.rules.logs import Log

_LOADS = Read(lambda step: Load.objects.filter(step=step).order_by("number"))
_LOGS = Read(lambda step: Attachment.objects.filter(step=step, kind="log", struck_by=None).order_by("id"))
_WHOLE = Read(
    lambda batch, number: Attachment.objects.filter(
        step__batch=batch, step__number=number, load=None, kind="log", struck_by=None
    ).order_by("id")
)
_READINGS = Read(lambda step: Reading.objects.filter(step=step, struck_by=None).order_by("id"))


def _sums(rows: QuerySet[Count]) -> QuerySet[Count, tuple[Any, ...]]:
    """Rows alike in what they say of scrap become one: a step told of piece by piece stays quick to judge."""
    kinds = rows.order_by().values_list("again", "by_reason")
    figures = (Sum(name) for name in ("good", "scrap", "rework", "samples"))
    return kinds.annotate(Rows("pk"), *figures)


# Apart, not by one OR over two tables, which no index could answer.
_ALONE = Read(lambda step, since: _sums(Count.objects.filter(step=step, load=None, event__gt=since)))
_OF_LOADS = Read(lambda step, since: _sums(Count.objects.filter(load__step=step, event__gt=since)))
_STANDS = Q(loads__struck_by=None)
_ENDS = Read(
    lambda batch, number: (
        Step.objects.filter(batch=batch, number=number)
        .order_by()
        .annotate(last=Max("loads__ended_at", filter=_STANDS), first=Min("loads__ended_at", filter=_STANDS))
        .values_list("done_at", "last", "first")
    )
)


# What there is to read of a step at all, and what still lies before it: most steps have neither loads nor readings.
_THERE = Read(
    lambda step: (
        Step.objects.filter(pk=step)
        .order_by()
        .values_list(
            Exists(Load.objects.filter(step=OuterRef("pk"))),
            Exists(Reading.objects.filter(step=OuterRef("pk"), struck_by=None)),
            Exists(Attachment.objects.filter(step=OuterRef("pk"), kind="log", struck_by=None)),
            Subquery(
                Account.objects.filter(
                    lot=OuterRef("batch__lot"),
                    site=OuterRef("site"),
                    condition=Condition.IN_PROCESS,
                    step=OuterRef("number"),
                ).values("balance")
            ),
        )
    )
)


def of_step(
    step: Step,
    *,
    hangs_on_before: bool,
    hangs_on: Collection[int] = (),
    asks_age: bool = False,
    first_offs: Sequence[ApprovalParams] = (),
) -> Evidence:
    """All evidence of a step; when the step before ended, which lots were used, and what the founder said of its
    first-off, only where a check asks."""
    has_loads, has_readings, has_logs, here = _THERE(step.pk)[0]
    every = _LOADS(step.pk) if has_loads else []
    loads = [load for load in every if load.struck_by_id is None]
    struck = max((load.struck_by_id or 0 for load in every), default=0)
    numbers = {load.pk: load.number for load in loads}
    ended, first_ended = _previous_end(step) if hangs_on_before else (None, None)
    readings = tuple(_reading(row, numbers) for row in (_READINGS(step.pk) if has_readings else ()))
    tester = asked_of(step.operation_id)
    bench = bench_of(step, tester, struck) if tester else NOTHING
    approved = approvals(step, loads, first_offs) if first_offs else NOT_ASKED
    return Evidence(
        loads=_loads(step, loads, has_logs=has_logs),
        readings=readings,
        counts=_counts(step, here or 0, struck, has_loads=has_loads),
        said_done=step.state == StepState.DONE,
        open_cavities=open_cavities(step),
        previous_ended_at=ended,
        previous_first_ended_at=first_ended,
        ends={number: _end_of(step, number)[::-1] for number in hangs_on},
        started_at=step.started_at,
        materials=used_at(step, readings) if asks_age else (),
        made_with=approved.made_with,
        approvals=approved.decisions,
        made_since=approved.made_since,
        tested=bench.tested,
        tries=bench.tries,
        periods=bench.periods,
    )


def _loads(step: Step, loads: Sequence[Load], *, has_logs: bool) -> tuple[LoadEvidence, ...]:
    """A log of the whole step, such as a platen's over a shift, stands for every load that sent none of its own;
    it is the load's own times that say which part of it counts."""
    logs = _logs(step) if loads and (has_logs or step.batch.parent_id) else {}
    whole = logs.get(None)
    return tuple(
        LoadEvidence(
            load.number, load.quantity, load.started_at, load.ended_at, load.late_reason, logs.get(load.pk, whole)
        )
        for load in loads
    )


def _logs(step: Step) -> dict[int | None, Log]:
    """What the step's logs say, by load; one that cannot be read, or not yet, proves nothing."""
    rows = list(_LOGS(step.pk))
    batch: Batch | None = step.batch
    while batch and batch.parent_id and not any(row.load_id is None for row in rows):
        # A load that was split off is still in the log that was sent for the whole step before.
        rows += _WHOLE(batch.parent_id, step.number)
        batch = batch.parent
    found = {row.load_id: log_of(row, step.operation_id) for row in rows}
    return {load_id: log for load_id, log in found.items() if isinstance(log, Log)}


def _counts(step: Step, here: int, struck: int, *, has_loads: bool) -> CountEvidence:
    """Counts of this step's own loads and of no load; those of a load that was split off went with it.

    `struck` is the event that started the step afresh for rework: what was counted since is what the loads
    since then have to cover.
    """
    told = _ALONE(step.pk, struck) + (_OF_LOADS(step.pk, struck) if has_loads else [])
    first = [row for row in told if struck or not row[0]]
    by_reason: dict[str, int] = {}
    before_test = 0
    for again, reasons, rows, *_ in told:
        for reason, pieces in reasons.items():
            by_reason[reason] = by_reason.get(reason, 0) + pieces * rows
        if struck or not again:
            before_test += reasons.get(BEFORE_TEST, 0) * rows
    good, scrap, rework, samples = (sum(row[place] for row in first) for place in range(3, 7))
    return CountEvidence(
        arrived=good + scrap + rework + samples + here,
        good=good,
        scrap=scrap,
        rework=rework,
        samples=samples,
        scrap_before=before_test,
        retested=sum(row[3] + row[4] for row in told if row[0] and not struck),
        by_reason=by_reason,
    )


def _previous_end(step: Step) -> tuple[datetime | None, datetime | None]:
    """When the operation before ended: its last load (or the step), and its first load."""
    before = [o for o in operations_of(step.batch.routing_id) if o.number < step.number]
    return _end_of(step, before[-1].number) if before else (None, None)


def _end_of(step: Step, number: int) -> tuple[datetime | None, datetime | None]:
    """When a step before ended: its last load (or the step), and its first load."""
    found = _ENDS.first(step.batch_id, number)
    batch = step.batch
    while found is None and batch.parent_id and batch.parent is not None:
        # Split off since: the steps before are the parent's.
        batch = batch.parent
        found = _ENDS.first(batch.pk, number)
    done_at, last, first = found or (None, None, None)
    last = last or done_at
    return last, first or last


def _reading(row: Reading, numbers: dict[int, int]) -> ReadingEvidence:
    try:
        value = Decimal(row.value)
    except InvalidOperation:
        value = Decimal(0)
    return ReadingEvidence(
        name=row.name,
        value=value,
        unit=row.unit,
        taken_at=row.taken_at,
        load=numbers.get(row.load_id) if row.load_id else None,
        cavity=row.cavity,
        piece=row.piece,
        # As typed, even where it reads as a number: a variant may be called "007".
        text=row.value,
    )
