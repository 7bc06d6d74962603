"""A site tells what arrived and how much of it was counted, best before anybody has seen the sender's figure."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from traveller.batches.models import Batch
from traveller.batches.splitting.surplus import hold_surplus
from traveller.batches.steps.closing import review
from traveller.batches.steps.fetch import lock_batches_of
from traveller.dispatches.actions.receive import Received, take_in
from traveller.dispatches.actions.unannounced import take_in_unannounced
from traveller.dispatches.models import ConsignmentLine
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Parked


@action
def receive(
    *,
    event_context: EventContext,
    line_id: int,
    quantity: int,
    method: str = "hand",
    sample: int = 0,
    seen: bool = False,
    more_to_come: bool = False,
    rest_due: date | None = None,
    how: Mapping[str, Any] | None = None,
    note: str = "",
    first: int = 0,
) -> Received:
    """Take in a counted line of a consignment. `first`: what was counted before, and more than was sent.

    Work told before the goods were counted may have used them up: then nothing of their batch lies anywhere now.
    """
    lots = list(ConsignmentLine.objects.filter(pk=line_id).values_list("lot_id", flat=True))
    lock_batches_of(lots)
    received = take_in(
        event_context=event_context,
        line_id=line_id,
        quantity=quantity,
        method=method,
        sample=sample,
        seen=seen,
        more_to_come=more_to_come,
        rest_due=rest_due,
        how=how,
        note=note,
        first=first,
    )
    if not received.repeated:
        hold_surplus(event_context, received)
        review(lots, event_context.at)
    return received


@action
def arrived_unannounced(
    *,
    event_context: EventContext,
    site_id: int,
    lot_id: int,
    quantity: int,
    method: str = "hand",
    sample: int = 0,
    how: Mapping[str, Any] | None = None,
    note: str = "",
    dispatch: str = "",
) -> Parked:
    """Goods are here that nobody has told were sent, or that were sent to another site.

    `dispatch`: they came with one that its sender has taken back.
    """
    return take_unannounced(
        event_context=event_context,
        site_id=site_id,
        lot_id=lot_id,
        quantity=quantity,
        method=method,
        sample=sample,
        how=how,
        note=note,
        dispatch=dispatch,
    )


def take_unannounced(
    *,
    event_context: EventContext,
    site_id: int,
    lot_id: int,
    quantity: int,
    method: str = "hand",
    sample: int = 0,
    how: Mapping[str, Any] | None = None,
    note: str = "",
    dispatch: str = "",
) -> Parked:
    """The same, inside an action."""
    lock_batches_of([lot_id])
    parked, met = take_in_unannounced(
        event_context=event_context,
        site_id=site_id,
        lot_id=lot_id,
        quantity=quantity,
        method=method,
        sample=sample,
        how=how,
        note=note,
        dispatch=dispatch,
        misdirected=goes_elsewhere(lot_id, site_id),
    )
    for received in met:
        hold_surplus(event_context, received)
    review([lot_id], event_context.at)
    return parked


def goes_elsewhere(lot_id: int, site_id: int) -> bool:
    """Has this lot gone astray here?

    A batch has, where neither a step of its routing nor its destination is at this site; material, where it is on the
    road to another site and not to this one.
    """
    batch = Batch.objects.filter(lot=lot_id).first()
    if batch is None:
        rows = ConsignmentLine.objects.filter(lot=lot_id, closed=False)
        return rows.exists() and not rows.filter(consignment__destination=site_id).exists()
    return batch.destination_id != site_id and not batch.steps.filter(site=site_id).exists()
