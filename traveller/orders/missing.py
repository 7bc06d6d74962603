"""What closed batches did not bring of what they were released for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import F, Sum

from traveller.batches.models import Batch
from traveller.ledger.models import Account, Condition, Link
from traveller.orders.models import BatchShare, OrderLine
from traveller.products.models import Part

_BROUGHT = (Condition.MADE_INTO, Condition.PACKED, Condition.SOLD_TO)


@dataclass(frozen=True, slots=True)
class Missing:
    """Of a line's share in a batch so many never came; the batch and all that was split off it are closed."""

    batch: Batch
    line: OrderLine
    part: Part
    share: int
    missing: int

    @property
    def brought(self) -> int:
        return self.share - self.missing


def missing(*, order_id: int | None = None, batch_id: int | None = None) -> list[Missing]:
    """A constant number of queries, and one for each generation of splits."""
    shares = BatchShare.objects.filter(
        batch__closed_at__isnull=False, line__order__closed_at=None, line__quantity__gt=F("line__packed")
    )
    if order_id is not None:
        shares = shares.filter(line__order=order_id)
    if batch_id is not None:
        shares = shares.filter(batch=batch_id)
    rows = list(shares.select_related("batch__part", "line__order", "line__part").order_by("batch_id", "id"))
    families = _families({row.batch_id for row in rows})
    brought = _brought([lot for lots in families.values() for lot in lots])
    left = {root: sum(brought[lot] for lot in lots) for root, lots in families.items()}
    found = []
    for row in rows:
        if row.batch_id not in families:
            continue
        came = min(row.quantity, left[row.batch_id])
        left[row.batch_id] -= came
        short = row.quantity - came
        if row.batch.part_id == row.line.part_id:
            # What is packed from elsewhere needs no batch any more.
            short = min(short, row.line.quantity - row.line.packed)
        if short > 0:
            found.append(Missing(row.batch, row.line, row.batch.part, row.quantity, short))
    return found


def _families(roots: set[int]) -> dict[int, list[int]]:
    """The lots of each batch with all that was split off it, of those of which nothing is open any more."""
    root_of = {pk: pk for pk in roots}
    lots: dict[int, list[int]] = {pk: [] for pk in roots}
    is_open: set[int] = set()
    rows = list(Batch.objects.filter(pk__in=roots).values_list("pk", "parent_id", "lot_id", "closed_at"))
    while rows:
        for pk, parent, lot_id, closed_at in rows:
            root = root_of.setdefault(pk, root_of.get(parent or 0, pk))
            if lot_id:
                lots[root].append(lot_id)
            if closed_at is None:
                is_open.add(root)
        parents = [row[0] for row in rows]
        children = Batch.objects.filter(parent__in=parents)
        rows = list(children.values_list("pk", "parent_id", "lot_id", "closed_at"))
    return {root: found for root, found in lots.items() if root not in is_open}


def _brought(lot_ids: Iterable[int]) -> dict[int, int]:
    """By lot: pieces that were used, packed or sold; what only changed its name within a part is told there."""
    lots = list(lot_ids)
    found: dict[int, int] = defaultdict(int)
    accounts = Account.objects.filter(lot__in=lots, condition__in=_BROUGHT).order_by().values_list("lot")
    for lot, pieces in accounts.annotate(Sum("balance")):
        found[lot] += pieces
    renamed = Link.objects.filter(parent__in=lots, parent__part=F("child__part")).order_by().values_list("parent")
    for lot, pieces in renamed.annotate(Sum("quantity")):
        found[lot] -= pieces
    return found
