"""A shop takes back a dispatch that did not leave, or one line of it, while nobody has counted it where it went."""

from __future__ import annotations

from traveller.batches.steps.closing import review
from traveller.batches.steps.fetch import lock_batches_of
from traveller.dispatches.actions.take_back import take_back
from traveller.dispatches.models import ConsignmentLine
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event


@action
def take_back_dispatch(*, event_context: EventContext, consignment_id: int, line_id: int | None = None) -> Event:
    """As `dispatches.actions.take_back`; the batches of its lots are locked first, as who counts them does."""
    lots = list(ConsignmentLine.objects.filter(consignment=consignment_id).values_list("lot_id", flat=True))
    lock_batches_of(lots)
    event = take_back(event_context=event_context, consignment_id=consignment_id, line_id=line_id)
    review(lots, event_context.at)
    return event
