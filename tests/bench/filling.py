"""Years of history in seconds: finished batches, and open ones, copied row by row within the database.

What is copied was played through the real actions once; each copy has its own keys, ids, codes and times.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from django.db import connection, transaction
from django.db.models import Field, ForeignKey, Model, QuerySet

from traveller.batches.models import Batch, Count, Load, Reading, Step, Verdict
from traveller.dispatches.models import Consignment, ConsignmentLine
from traveller.journal.models import Event, EventSubject, Subject
from traveller.ledger.models import Account, Hold, Lot, Posting
from traveller.orders.models import BatchShare, Order, OrderLine

# Keys of the originals stay below; copy number k has the original's key and k times this (so many fit seven figures).
STRIDE = 200
Rows = Mapping[type[Model], "QuerySet[Model]"]


def rows_of(batch: Batch, *, since: int) -> dict[type[Model], list[int]]:
    """Keys of all that belongs to a batch and was told after event `since`; its order too, if it has one."""
    events = Event.objects.filter(pk__gt=since)
    lines = OrderLine.objects.filter(shares__batch=batch)
    consignments = Consignment.objects.filter(lines__lot=batch.lot_id)
    about = Subject.objects.filter(mentions__event__in=events) | Subject.objects.filter(batch=batch)
    asked: dict[type[Model], QuerySet[Model]] = {
        Subject: about | Subject.objects.filter(order__lines__in=lines),
        Event: events,
        EventSubject: EventSubject.objects.filter(event__in=events),
        Lot: Lot.objects.filter(batch=batch),
        Batch: Batch.objects.filter(pk=batch.pk),
        Step: Step.objects.filter(batch=batch),
        Load: Load.objects.filter(step__batch=batch),
        Count: Count.objects.filter(step__batch=batch),
        Reading: Reading.objects.filter(step__batch=batch),
        Verdict: Verdict.objects.filter(step__batch=batch),
        Account: Account.objects.filter(lot__batch=batch),
        Posting: Posting.objects.filter(account__lot__batch=batch),
        Hold: Hold.objects.filter(lot__batch=batch),
        Consignment: consignments,
        ConsignmentLine: ConsignmentLine.objects.filter(consignment__in=consignments),
        Order: Order.objects.filter(lines__in=lines),
        OrderLine: lines,
        BatchShare: BatchShare.objects.filter(batch=batch),
    }  # fmt: skip
    return {model: sorted(set(rows.order_by().values_list("pk", flat=True))) for model, rows in asked.items()}


def copy(rows: Mapping[type[Model], list[int]], first: int, last: int) -> None:
    """Make copies `first` to `last` (1, 2, ...) of the rows, in one transaction."""
    assert all(key < STRIDE for keys in rows.values() for key in keys), "too much was played before the copying"
    with transaction.atomic(), connection.cursor() as cursor:
        for model, keys in rows.items():
            if not keys:
                continue
            fields = list(model._meta.local_concrete_fields)
            names = ", ".join(connection.ops.quote_name(field.column or "") for field in fields)
            values = ", ".join(_value(model, field, rows) for field in fields)
            marks = ", ".join(str(key) for key in keys)
            cursor.execute(
                f"WITH RECURSIVE n(k) AS (SELECT {first} UNION ALL SELECT k + 1 FROM n WHERE k < {last}) "
                f"INSERT INTO {model._meta.db_table} ({names}) SELECT {values} FROM n, {model._meta.db_table} t "
                f"WHERE t.id IN ({marks}) ORDER BY k, t.id"
            )
    if connection.vendor == "postgresql":
        _housekeeping(rows)


def _housekeeping(models: Iterable[type[Model]]) -> None:
    """Sequences go on behind the copies, and PostgreSQL knows what it has; SQLite knows nothing of itself."""
    with connection.cursor() as cursor:
        for model in models:
            table = model._meta.db_table
            cursor.execute(f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), (SELECT max(id) FROM {table}))")
        cursor.execute("ANALYZE")


def _value(model: type[Model], field: Field[object, object], copied: Mapping[type[Model], list[int]]) -> str:
    """How a column of a copy follows from the original `t` and the copy's number `k`."""
    column = f"t.{connection.ops.quote_name(field.column or '')}"
    key = f"k * {STRIDE}"
    if field.primary_key:
        return f"{column} + {key}"
    if isinstance(field, ForeignKey):
        target = field.related_model
        own = isinstance(target, type) and bool(copied.get(target))
        # A row beside the originals (the factory's events) is shared by all copies.
        marks = ", ".join(str(one) for one in copied[target]) if own else ""
        return f"CASE WHEN {column} IN ({marks}) THEN {column} + {key} ELSE {column} END" if own else column
    on_its_own = _ON_ITS_OWN.get(field.name)
    return on_its_own(model, column) if on_its_own else column


def _code(model: type[Model], column: str) -> str:
    """Seven figures: a batch, its lot and their subject share them. Elsewhere a code says why, not which."""
    if model not in (Subject, Lot, Batch, Consignment):
        return column
    own = "t.id" if model is Subject else "t.subject_id"
    figures = f"CAST({own} + k * {STRIDE} AS VARCHAR(12))"
    if connection.vendor == "postgresql":
        return f"CASE WHEN {column} IS NULL THEN NULL ELSE right('0000000' || {figures}, 7) END"
    return f"CASE WHEN {column} IS NULL THEN NULL ELSE substr('0000000' || {figures}, -7) END"


def _uid(model: type[Model], column: str) -> str:
    return "gen_random_uuid()" if connection.vendor == "postgresql" else "lower(hex(randomblob(16)))"


def _earlier(model: type[Model], column: str) -> str:
    """Each copy an hour before the one before it."""
    if connection.vendor == "postgresql":
        return f"{column} - k * INTERVAL '1 hour'"
    return f"strftime('%Y-%m-%d %H:%M:%S', {column}, '-' || k || ' hours')"


def _number(model: type[Model], column: str) -> str:
    return f"{column} || '-' || k" if model is Order else column


_ON_ITS_OWN: dict[str, Callable[[type[Model], str], str]] = {
    "uid": _uid,
    "code": _code,
    "happened_at": _earlier,
    "recorded_at": _earlier,
    "number": _number,
}
