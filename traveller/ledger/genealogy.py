"""Which lot went into which; one recursive query each way."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.core.exceptions import EmptyResultSet
from django.db import connection
from django.db.models import QuerySet

from traveller.journal.models import Event
from traveller.ledger.models import Link, Lot

# An edge counts while its signed quantities sum above zero, or when it may have been more than its figure
# says: inferred from the bill, or scanned beside another lot that covered the bill's quantity (a row with 0),
# unless the news that said so was undone.
# UNION on the lot alone drops repeats, so the query ends even if the data held a cycle.
_FORWARD = """
WITH RECURSIVE reached(lot_id) AS (
    SELECT l.child_id FROM ledger_link l WHERE l.parent_id IN ({marks}) AND {counts}
    UNION
    SELECT l.child_id FROM ledger_link l JOIN reached r ON l.parent_id = r.lot_id WHERE {counts}
) SELECT lot_id FROM reached
"""
_BACK = _FORWARD.replace("child_id", "<<").replace("parent_id", "child_id").replace("<<", "parent_id")
_COUNTS = """((l.inferred OR l.quantity = 0) AND NOT EXISTS (SELECT 1 FROM journal_event u
    WHERE u.corrects_id = l.event_id AND u.kind = 'undone') OR (SELECT SUM(k.quantity) FROM ledger_link k
    WHERE k.parent_id = l.parent_id AND k.child_id = l.child_id) > 0)"""


# Every edge above the lots of a query, each once. `used`: the child was made from the parent, not only split off it
# or poured together with it; what was regraded was decided by a person.
_EDGES_ABOVE = """
WITH RECURSIVE edge(parent_id, child_id) AS (
    SELECT l.parent_id, l.child_id FROM ledger_link l WHERE l.child_id IN ({scope}) AND {counts}
    UNION
    SELECT l.parent_id, l.child_id FROM ledger_link l JOIN edge e ON l.child_id = e.parent_id WHERE {counts}
) SELECT e.parent_id, e.child_id, p.part_id <> c.part_id AND c.origin <> 'regrade'
  FROM edge e JOIN ledger_lot p ON p.id = e.parent_id JOIN ledger_lot c ON c.id = e.child_id
"""


# Each lot that anything of these may ever have gone into, whether or not the edge counts: to look for signs among many.
_ALL_BELOW = """
WITH RECURSIVE reached(lot_id) AS (
    SELECT l.child_id FROM ledger_link l WHERE l.parent_id IN ({marks})
    UNION
    SELECT l.child_id FROM ledger_link l JOIN reached r ON l.parent_id = r.lot_id
) SELECT lot_id FROM reached
"""


@dataclass(frozen=True, slots=True)
class Edge:
    """Something of the parent went, or may have gone, into the child; `used`: as a component of it."""

    parent_id: int
    child_id: int
    used: bool


@dataclass(frozen=True, slots=True)
class Use:
    """`quantity` of a parent lot, in its base unit, went into the child."""

    parent: Lot
    quantity: int
    inferred: bool = False


def link(event: Event, child: Lot, uses: Iterable[Use]) -> list[Link]:
    """Write what went into a lot. Whoever links also lets the child inherit holds (ledger.holds.inherit)."""
    return Link.objects.bulk_create(
        [
            Link(event=event, parent=use.parent, child=child, quantity=use.quantity, inferred=use.inferred)
            for use in uses
        ]
    )


def descendants(lot_id: int) -> set[int]:
    """Every lot that anything of this lot went, or may have gone, into."""
    return _reach(_FORWARD, [lot_id])


def descendants_of(lot_ids: Collection[int]) -> set[int]:
    """Every lot that anything of any of these went, or may have gone, into; one query."""
    return _reach(_FORWARD, lot_ids)


def ancestors(lot_id: int) -> set[int]:
    """Every lot that went, or may have gone, into this one."""
    return _reach(_BACK, [lot_id])


def edges_above(lots: QuerySet[Lot]) -> list[Edge]:
    """Every edge on the way from any lot to these lots; one query, however many lots or generations there are."""
    try:
        scope, params = lots.order_by().values("pk").query.sql_with_params()
    except EmptyResultSet:
        # A query that can find nothing has no statement.
        return []
    with connection.cursor() as cursor:
        cursor.execute(_EDGES_ABOVE.format(counts=_COUNTS, scope=scope), params)
        return [Edge(int(parent), int(child), bool(used)) for parent, child, used in cursor.fetchall()]


def all_below(lot_ids: Collection[int]) -> set[int]:
    """Each lot that anything of these may ever have gone into, whether or not the edge counts; one query."""
    if not lot_ids:
        return set()
    with connection.cursor() as cursor:
        cursor.execute(_ALL_BELOW.format(marks=_written_out(lot_ids)))
        return {int(row[0]) for row in cursor.fetchall()}


def _reach(query: str, lot_ids: Collection[int]) -> set[int]:
    if not lot_ids:
        return set()
    with connection.cursor() as cursor:
        cursor.execute(query.format(counts=_COUNTS, marks=_written_out(lot_ids)))
        return {int(row[0]) for row in cursor.fetchall()}


def _written_out(lot_ids: Collection[int]) -> str:
    """Keys of our own, written out: a database takes only so many parameters."""
    return ", ".join(str(int(lot_id)) for lot_id in lot_ids)
