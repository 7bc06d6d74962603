"""A shop counts what arrived once more, after both figures were shown."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from traveller.batches.splitting.surplus import hold_surplus
from traveller.batches.steps.closing import review
from traveller.batches.steps.fetch import lock_batches_of
from traveller.dispatches.actions.count_again import take_again
from traveller.dispatches.actions.receive import Received
from traveller.dispatches.models import ConsignmentLine
from traveller.journal.action import action
from traveller.journal.event_context import EventContext


@action
def count_again(
    *,
    event_context: EventContext,
    line_id: int,
    quantity: int,
    method: str = "hand",
    sample: int = 0,
    how: Mapping[str, Any] | None = None,
    note: str = "",
    seen: bool = True,
) -> Received:
    """As `dispatches.actions.count_again`, and the lot's batch is closed or opened by what was found."""
    lots = list(ConsignmentLine.objects.filter(pk=line_id).values_list("lot_id", flat=True))
    lock_batches_of(lots)
    received = take_again(
        event_context=event_context,
        line_id=line_id,
        quantity=quantity,
        method=method,
        sample=sample,
        how=how,
        note=note,
        seen=seen,
    )
    if not received.repeated:
        hold_surplus(event_context, received)
        review(lots, event_context.at)
    return received
