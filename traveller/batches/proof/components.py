"""What is not proved of what was used up in making a lot, whatever news let it be used.

A source of `traveller.batches.usable`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from django.db.models import QuerySet

from traveller.batches.models import Batch
from traveller.batches.proof.gates import Stretch, Unproved, closed_among
from traveller.ledger import genealogy
from traveller.ledger.genealogy import Edge
from traveller.ledger.models import Lot
from traveller.rules.purposes import Purpose


def unproved_inside(lots: QuerySet[Lot], purpose: Purpose) -> dict[int, tuple[int, Unproved]]:
    """By lot: the first unproved batch among all that was used up in making it, and what blocks that one.

    A lot that was only split is proved by its own batch, which knows what its parent had proved. What was regraded
    was decided by a person; what had been used in it is still looked at. Lots of which nothing is unproved are left
    out; some that were not asked about may stand in the answer.
    """
    edges = genealogy.edges_above(lots)
    used = {edge.parent_id for edge in edges if edge.used}
    batches = dict(Batch.objects.filter(lot__in=used).values_list("lot_id", "pk").order_by()) if used else {}
    closed = closed_among([Stretch(pk) for pk in batches.values()], purpose)
    if not closed:
        return {}
    below = _children(edges)
    found: dict[int, tuple[int, Unproved]] = {}
    for lot_id, batch_id in sorted(batches.items(), key=lambda row: row[1]):
        blocks = closed.get(Stretch(batch_id))
        if blocks:
            made_of_it = [edge.child_id for edge in edges if edge.used and edge.parent_id == lot_id]
            for child in _reached(made_of_it, below):
                found.setdefault(child, (batch_id, blocks[0]))
    return found


def _children(edges: Iterable[Edge]) -> Mapping[int, list[int]]:
    below: dict[int, list[int]] = defaultdict(list)
    for edge in edges:
        below[edge.parent_id].append(edge.child_id)
    return below


def _reached(lots: Iterable[int], below: Mapping[int, list[int]]) -> set[int]:
    """These lots and all that was made from them."""
    found: set[int] = set()
    open_ones = list(lots)
    while open_ones:
        lot = open_ones.pop()
        if lot not in found:
            found.add(lot)
            open_ones += below.get(lot, ())
    return found
