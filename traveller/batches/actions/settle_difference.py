"""The founder settles a count that differs; the batch is over, or goes on, by what was found."""

from __future__ import annotations

from traveller.batches.steps.closing import review
from traveller.batches.steps.fetch import lock_batches_of
from traveller.dispatches.actions.receive import Received
from traveller.dispatches.actions.settle import Finding, settle
from traveller.dispatches.models import ConsignmentLine
from traveller.journal.action import action
from traveller.journal.event_context import EventContext


@action
def settle_difference(*, event_context: EventContext, line_id: int, finding: Finding, reason: str) -> Received:
    """As `dispatches.actions.settle`, and the lot's batch is closed or opened by what was found."""
    lots = list(ConsignmentLine.objects.filter(pk=line_id).values_list("lot_id", flat=True))
    lock_batches_of(lots)
    settled = settle(event_context=event_context, line_id=line_id, finding=finding, reason=reason)
    if not settled.repeated:
        review(lots, event_context.at)
    return settled
