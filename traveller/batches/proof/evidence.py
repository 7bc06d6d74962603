"""What is known about a step, as the rules want to see it."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from datetime import datetime
from decimal import Decimal, InvalidOperation

from traveller.batches.files.decoded import log_of
from traveller.batches.models import Attachment, Batch, Load, Reading, Step, StepState
from traveller.batches.proof.cores import cores_for
from traveller.batches.proof.first_piece import NOT_ASKED, approvals, open_cavities
from traveller.batches.proof.materials import used_at
from traveller.batches.proof.tester import BEFORE_TEST, NOTHING, asked_of, bench_of
from traveller.journal.rows import Rows, moment_read, run_sql
from traveller.ledger.models import Condition
from traveller.products.frozen import operations_of
from traveller.rules.checks.base import CountEvidence, Evidence, LoadEvidence, ReadingEvidence
from traveller.rules.checks.kind import Terms
from traveller.rules.logs import Log, Unclear

_LOAD = Rows(Load, "l")
_LOADS = f"SELECT {_LOAD.columns} FROM batches_load l WHERE l.step_id = %s ORDER BY l.number"
_ATTACHMENT = Rows(Attachment, "a")
_LOGS = (
    f"SELECT {_ATTACHMENT.columns} FROM batches_attachment a "
    "WHERE a.step_id = %s AND a.kind = 'log' AND a.struck_by_id IS NULL ORDER BY a.id"
)
_WHOLE = (
    f"SELECT {_ATTACHMENT.columns} FROM batches_attachment a JOIN batches_step s ON s.id = a.step_id "
    "WHERE s.batch_id = %s AND s.number = %s AND a.load_id IS NULL AND a.kind = 'log' AND a.struck_by_id IS NULL "
    "ORDER BY a.id"
)
_READING = Rows(Reading, "r")
_READINGS = (
    f"SELECT {_READING.columns} FROM batches_reading r WHERE r.step_id = %s AND r.struck_by_id IS NULL ORDER BY r.id"
)

# Rows alike in what they say of scrap become one: a step told of piece by piece stays quick to judge. Apart, not by
# one OR over two tables, which no index could answer.
_SUMS = "c.again, c.by_reason, COUNT(c.id), SUM(c.good), SUM(c.scrap), SUM(c.rework), SUM(c.samples)"
_ALONE = (
    f"SELECT {_SUMS} FROM batches_count c WHERE c.step_id = %s AND c.load_id IS NULL AND c.event_id > %s "
    "GROUP BY c.again, c.by_reason"
)
_OF_LOADS = (
    f"SELECT {_SUMS} FROM batches_count c JOIN batches_load l ON l.id = c.load_id "
    "WHERE l.step_id = %s AND c.event_id > %s GROUP BY c.again, c.by_reason"
)
_ENDS = (
    "SELECT s.done_at, MAX(l.ended_at), MIN(l.ended_at) FROM batches_step s "
    "LEFT JOIN batches_load l ON l.step_id = s.id AND l.struck_by_id IS NULL "
    "WHERE s.batch_id = %s AND s.number = %s GROUP BY s.id, s.done_at"
)
# What there is to read of a step at all, and what still lies before it: most steps have neither loads nor readings.
_THERE = (
    "SELECT EXISTS (SELECT 1 FROM batches_load l WHERE l.step_id = s.id), "
    "EXISTS (SELECT 1 FROM batches_reading r WHERE r.step_id = s.id AND r.struck_by_id IS NULL), "
    "EXISTS (SELECT 1 FROM batches_attachment a "
    "WHERE a.step_id = s.id AND a.kind = 'log' AND a.struck_by_id IS NULL), "
    "(SELECT balance FROM ledger_account WHERE lot_id = b.lot_id AND site_id = s.site_id "
    f"AND condition = '{Condition.IN_PROCESS.value}' AND step = s.number) "
    "FROM batches_step s JOIN batches_batch b ON b.id = s.batch_id WHERE s.id = %s"
)


def of_step(
    step: Step,
    *,
    hangs_on_before: bool,
    hangs_on: Collection[int] = (),
    asks_materials: bool = False,
    asks_cores: bool = False,
    first_pieces: Sequence[Terms] = (),
) -> Evidence:
    """All evidence of a step; when the step before ended, which lots were used, and what the founder said of its
    first piece, only where a check asks."""
    has_loads, has_readings, has_logs, here = run_sql(_THERE, [step.pk])[0]
    every = _LOAD.of(run_sql(_LOADS, [step.pk])) if has_loads else []
    loads = [load for load in every if load.struck_by_id is None]
    struck = max((load.struck_by_id or 0 for load in every), default=0)
    numbers = {load.pk: load.number for load in loads}
    ended, first_ended = _previous_end(step) if hangs_on_before else (None, None)
    reported = _READING.of(run_sql(_READINGS, [step.pk])) if has_readings else []
    readings = tuple(_reading(row, numbers) for row in reported)
    tester = asked_of(step.operation_id)
    bench = bench_of(step, tester, struck) if tester else NOTHING
    approved = approvals(step, loads, first_pieces) if first_pieces else NOT_ASKED
    return Evidence(
        loads=_loads(step, loads, has_logs=has_logs, asks_cores=asks_cores),
        readings=readings,
        counts=_counts(step, here or 0, struck, has_loads=has_loads),
        said_done=step.state == StepState.DONE,
        open_cavities=open_cavities(step),
        previous_ended_at=ended,
        previous_first_ended_at=first_ended,
        ends={number: _end_of(step, number)[::-1] for number in hangs_on},
        started_at=step.started_at,
        materials=used_at(step, readings) if asks_materials else (),
        made_with=approved.made_with,
        approvals=approved.decisions,
        made_since=approved.made_since,
        tested=bench.tested,
        tries=bench.tries,
        periods=bench.periods,
    )


def _loads(step: Step, loads: Sequence[Load], *, has_logs: bool, asks_cores: bool = False) -> tuple[LoadEvidence, ...]:
    """A log of the whole step, such as a platen's over a shift, stands for every load that sent none of its own;
    it is the load's own times that say which part of it counts."""
    logs = _logs(step) if loads and (has_logs or step.batch.parent_id) else {}
    whole = logs.get(None)
    cores = cores_for(step, loads) if asks_cores and logs else {}
    return tuple(
        LoadEvidence(
            load.number,
            load.quantity,
            load.started_at,
            load.ended_at,
            load.late_reason,
            found if isinstance(found, Log) else None,
            cores.get(load.pk),
            isinstance(found, Unclear),
        )
        for load in loads
        for found in [logs.get(load.pk, whole)]
    )


def _logs(step: Step) -> dict[int | None, Log | Unclear]:
    """What the step's logs say, or are asked about, by load; one that cannot be read, or not yet, proves nothing."""
    rows = _ATTACHMENT.of(run_sql(_LOGS, [step.pk]))
    batch: Batch | None = step.batch
    while batch and batch.parent_id and not any(row.load_id is None for row in rows):
        # A load that was split off is still in the log that was sent for the whole step before.
        rows += _ATTACHMENT.of(run_sql(_WHOLE, [batch.parent_id, step.number]))
        batch = batch.parent
    found = {row.load_id: log_of(row, step.operation_id) for row in rows}
    return {load_id: log for load_id, log in found.items() if isinstance(log, Log | Unclear)}


def _counts(step: Step, here: int, struck: int, *, has_loads: bool) -> CountEvidence:
    """Counts of this step's own loads and of no load; those of a load that was split off went with it.

    `struck` is the event that started the step afresh for rework: what was counted since is what the loads
    since then have to cover.
    """
    asked = [step.pk, struck]
    reported = [
        (again, json.loads(reasons), *figures)
        for again, reasons, *figures in run_sql(_ALONE, asked) + (run_sql(_OF_LOADS, asked) if has_loads else [])
    ]
    first = [row for row in reported if struck or not row[0]]
    by_reason: dict[str, int] = {}
    before_test = 0
    for again, reasons, rows, *_ in reported:
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
        retested=sum(row[3] + row[4] for row in reported if row[0] and not struck),
        by_reason=by_reason,
    )


def _previous_end(step: Step) -> tuple[datetime | None, datetime | None]:
    """When the operation before ended: its last load (or the step), and its first load."""
    before = [o for o in operations_of(step.batch.routing_id) if o.number < step.number]
    return _end_of(step, before[-1].number) if before else (None, None)


def _end_of(step: Step, number: int) -> tuple[datetime | None, datetime | None]:
    """When a step before ended: its last load (or the step), and its first load."""
    found = run_sql(_ENDS, [step.batch_id, number])
    batch = step.batch
    while not found and batch.parent_id and batch.parent is not None:
        # Split off since: the steps before are the parent's.
        batch = batch.parent
        found = run_sql(_ENDS, [batch.pk, number])
    done_at, last, first = map(moment_read, found[0]) if found else (None, None, None)
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
