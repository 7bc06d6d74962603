"""Rows an action works on, locked where the database locks rows: a step's batch first, lots after (ledger.post)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from copy import copy

from django.db import connection

from sites.models import Site
from traveller.batches.models import Batch, Step
from traveller.journal.models import Event
from traveller.journal.rows import Rows, run_sql
from traveller.ledger import lots
from traveller.ledger.models import Lot
from traveller.products.frozen import operations_of
from traveller.products.models import Operation, OperationKind

# The batch first: whoever works on a batch's steps locks in this order.
_LOCK = "SELECT s.id FROM batches_batch b JOIN batches_step s ON s.batch_id = b.id WHERE s.id = %s FOR UPDATE OF b, s"
_ROWS = Rows(Step, "s", batch=Rows(Batch, "b", lot=Rows(Lot, "l")))
_STEP = (
    f"SELECT {_ROWS.columns} FROM batches_step s JOIN batches_batch b ON b.id = s.batch_id "
    "LEFT JOIN ledger_lot l ON l.id = b.lot_id WHERE s.id = %s"
)


def step_locked(step_id: int) -> Step:
    """The step and its batch, locked, as they are once whoever had them before is through."""
    if connection.vendor == "postgresql":
        # A query that waits for a lock sees the rows beside it (the lot just born) as they were before it.
        run_sql(_LOCK, [step_id])
    found = _ROWS.of(run_sql(_STEP, [step_id]))
    if not found:
        raise Step.DoesNotExist(f"step {step_id}")
    step = found[0]
    for operation in operations_of(step.batch.routing_id):
        if operation.pk == step.operation_id:
            step.operation = operation
    return step


def batch_locked(batch_id: int) -> Batch:
    if connection.vendor == "postgresql":
        list(Batch.objects.select_for_update().filter(pk=batch_id).values_list("pk"))
    return Batch.objects.select_related("subject", "part", "lot").get(pk=batch_id)


def lock_batches_of(lot_ids: Iterable[int]) -> None:
    """Before the lots themselves, for who may close or reopen their batches in the end."""
    if connection.vendor == "postgresql":
        list(Batch.objects.select_for_update().filter(lot__in=list(lot_ids)).order_by("pk").values_list("pk"))


def lock_batches(batch_ids: Iterable[int]) -> None:
    """Several, in one order."""
    if connection.vendor == "postgresql":
        list(Batch.objects.select_for_update().filter(pk__in=list(batch_ids)).order_by("pk").values_list("pk"))


def lock_batches_of_part(part_id: int) -> None:
    """All that are open, in one order, for who judges them by one decision."""
    if connection.vendor == "postgresql":
        rows = Batch.objects.select_for_update().filter(part=part_id, closed_at=None)
        list(rows.order_by("pk").values_list("pk"))


def lot_of(batch: Batch, event: Event) -> Lot:
    """The batch's lot, born now if this is its first report."""
    if batch.lot is None:
        batch.lot = lots.create(event, batch.part, origin="batch", subject=batch.subject)
        batch.save(update_fields=["lot"])
    return batch.lot


def way_of(batch: Batch) -> Sequence[Operation]:
    """The operations of a batch, each with the site where this batch has it done: mostly that of the frozen routing."""
    operations = operations_of(batch.routing_id)
    if not batch.rerouted:
        return operations
    sites = {step.number: step.site for step in Step.objects.filter(batch=batch).select_related("site")}
    return [_elsewhere(operation, sites.get(operation.number)) for operation in operations]


def _elsewhere(operation: Operation, site: Site | None) -> Operation:
    if site is None or site.pk == operation.site_id:
        return operation
    # Never the frozen one itself: other batches are on it too.
    moved = copy(operation)
    moved.site = site
    return moved


def next_step(step: Step) -> Operation | None:
    """The operation that waits for this step's good pieces: preparing ones take no pieces."""
    return next_step_after(step.batch, step.number)


def next_step_after(batch: Batch, number: int) -> Operation | None:
    """The operation that pieces through step `number` wait for."""
    for operation in way_of(batch):
        if operation.number > number and operation.kind != OperationKind.PREPARE:
            return operation
    return None
