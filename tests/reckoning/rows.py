"""The rows as the database has them, read by plain SQL through a cursor that is handed in: postings, never balances."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, Protocol


class Cursor(Protocol):
    """What is asked of a database: any driver's cursor has it."""

    @property
    def description(self) -> Any: ...

    def execute(self, sql: str) -> Any: ...

    def fetchall(self) -> Iterable[Any]: ...


class Row(dict[str, Any]):
    """A row by the names of its columns."""

    def __getattr__(self, name: str) -> Any:
        return self[name]


# Each with the columns that tell a time or a day or carry figures in them: drivers give them in their own ways.
TABLES = {
    "sites": "sites_site",
    "closures": "sites_closure",
    "lanes": "sites_lane",
    "parts": "products_part",
    "routings": "products_routing",
    "operations": "products_operation",
    "checks": "products_check",
    "bill": "products_billline",
    "lots": "ledger_lot",
    "holds": "ledger_hold",
    "links": "ledger_link",
    "batches": "batches_batch",
    "steps": "batches_step",
    "loads": "batches_load",
    "verdicts": "batches_verdict",
    "counts": "batches_count",
    "first_pieces": "batches_firstpiece",
    "consignments": "dispatches_consignment",
    "sent": "dispatches_consignmentline",
    "orders": "orders_order",
    "lines": "orders_orderline",
    "shares": "orders_batchshare",
    "needs": "orders_need",
    "reserved": "orders_reservation",
    "purchases": "orders_purchase",
    "cartons": "shipping_carton",
    "in_cartons": "shipping_cartonlot",
    "shipments": "shipping_shipment",
    "parked": "journal_parked",
}
UNREAD = {"picture", "picture_type", "picture_digest", "content"}
POSTINGS = """
    SELECT p.id, p.event_id, p.quantity, p.account_id, a.lot_id, a.site_id, a.condition, a.step,
           e.happened_at, e.kind
    FROM ledger_posting p JOIN ledger_account a ON a.id = p.account_id JOIN journal_event e ON e.id = p.event_id
    ORDER BY e.happened_at, p.event_id, p.id
"""
EVENTS = """
    SELECT id, kind, actor_kind, person, on_behalf, happened_at, recorded_at, site_id, data, corrects_id
    FROM journal_event ORDER BY id
"""


@dataclass(frozen=True)
class Place:
    """Where pieces of a lot lie, in what condition, before or after which step."""

    lot: int
    site: int
    condition: str
    step: int


class Rows:
    """All that is known at one moment. `balance` has the sum of the postings of each place that has any."""

    sites: dict[int, Row]
    parts: dict[int, Row]

    def __init__(self, cursor: Cursor) -> None:
        self._cursor = cursor
        self.by: dict[str, dict[int, Row]] = {}
        for name, table in TABLES.items():
            self.by[name] = {row.id: row for row in self.ask(f"SELECT * FROM {table} ORDER BY id")}
        self.events = {row.id: row for row in self.ask(EVENTS)}
        self.postings = self.ask(POSTINGS)
        self.balance: dict[Place, int] = defaultdict(int)
        self.moves: dict[Place, list[Row]] = defaultdict(list)
        for one in self.postings:
            place = Place(one.lot_id, one.site_id, one.condition, one.step)
            self.balance[place] += one.quantity
            self.moves[place].append(one)

    def __getattr__(self, name: str) -> dict[int, Row]:
        try:
            found: dict[int, Row] = self.__dict__["by"][name]
        except KeyError:
            raise AttributeError(name) from None
        return found

    def ask(self, sql: str) -> list[Row]:
        self._cursor.execute(sql)
        names = [column[0] for column in self._cursor.description]
        return [
            Row((name, plain(name, value)) for name, value in zip(names, row, strict=True) if name not in UNREAD)
            for row in self._cursor.fetchall()
        ]

    def lying(self, *conditions: str) -> dict[Place, int]:
        """Where something lies in one of these conditions."""
        return {place: n for place, n in self.balance.items() if n > 0 and place.condition in conditions}

    def part_of(self, lot: int) -> Row:
        return self.parts[self.lots[lot].part_id]

    def batch_of(self, lot: int) -> Row | None:
        if not hasattr(self, "_batch_by_lot"):
            self._batch_by_lot = {row.lot_id: row for row in self.batches.values() if row.lot_id}
        return self._batch_by_lot.get(lot)

    def steps_of(self, batch: int) -> list[Row]:
        if not hasattr(self, "_steps_by_batch"):
            self._steps_by_batch: dict[int, list[Row]] = defaultdict(list)
            for row in sorted(self.steps.values(), key=lambda one: one.number):
                self._steps_by_batch[row.batch_id].append(row)
        return self._steps_by_batch[batch]


def plain(name: str, value: Any) -> Any:
    """Days, moments and figures as Python has them, whatever the driver gives."""
    if isinstance(value, str):
        if name.endswith("_at") or name == "since":
            value = datetime.fromisoformat(value)
        elif name.endswith("_on") or name.endswith("_day") or name in ("rest_due",):
            return date.fromisoformat(value)
        elif name in ("data", "figures", "plan", "parameters", "shifts", "totes") and value[:1] in '{["':
            return json.loads(value)
    if isinstance(value, datetime) and value.tzinfo is None:
        return value.replace(tzinfo=UTC)
    return value
