"""A site tells what arrived and how much of it was counted, best before anybody has seen the sender's figure."""

from __future__ import annotations

from traveller.batches.closing import review
from traveller.batches.fetch import lock_batches_of
from traveller.consignments.actions.receive import Received, take_in, take_in_unannounced
from traveller.consignments.models import ConsignmentLine
from traveller.journal.deed import deed
from traveller.journal.models import Parked
from traveller.journal.stamp import Stamp


@deed
def receive(
    *,
    stamp: Stamp,
    line_id: int,
    quantity: int,
    method: str = "hand",
    sample: int = 0,
    seen: bool = False,
    more_to_come: bool = False,
) -> Received:
    """Take in a counted line of a consignment.

    Work told before the goods were counted may have used them up: then nothing of their batch lies anywhere now.
    """
    lots = list(ConsignmentLine.objects.filter(pk=line_id).values_list("lot_id", flat=True))
    lock_batches_of(lots)
    received = take_in(
        stamp=stamp,
        line_id=line_id,
        quantity=quantity,
        method=method,
        sample=sample,
        seen=seen,
        more_to_come=more_to_come,
    )
    if not received.repeated:
        review(lots, stamp.at)
    return received


@deed
def arrived_unannounced(
    *, stamp: Stamp, site_id: int, lot_id: int, quantity: int, method: str = "hand", sample: int = 0
) -> Parked:
    """Goods are here that nobody has told were sent."""
    lock_batches_of([lot_id])
    parked = take_in_unannounced(
        stamp=stamp, site_id=site_id, lot_id=lot_id, quantity=quantity, method=method, sample=sample
    )
    review([lot_id], stamp.at)
    return parked
