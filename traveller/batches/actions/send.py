"""A site asks to send goods on: lots of batches only when proved and free, material as it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sites.models import Site
from traveller.batches.models import Batch
from traveller.batches.splitting.surplus import hold_surplus
from traveller.batches.steps.closing import review
from traveller.batches.steps.fetch import lock_batches_of, way_of
from traveller.batches.usable import after_step, refuse_unusable
from traveller.dispatches.actions.dispatch import KIND, Papers, SendLine, as_reported, dispatch
from traveller.dispatches.models import Consignment, SentFor
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier
from traveller.journal.refusal import Refused
from traveller.ledger.models import Condition
from traveller.products.models import OperationKind


@action
def send(
    *,
    event_context: EventContext,
    origin_id: int,
    destination_id: int,
    lines: Sequence[SendLine],
    purpose: str = "processing",
    carrier: str = "",
    owner: str = "",
    returnables: str = "",
    note: str = "",
    shown: bool = False,
) -> Consignment:
    """Send whole lots or part of them. A lot's next step follows from its routing.

    A return needs no proof, and a `note` that says why. `shown`: the totes carry their quantity.
    """
    papers = Papers(carrier, owner, returnables, note.strip(), shown)
    batches = {
        batch.lot_id: batch
        for batch in Batch.objects.filter(lot__in=[line.lot_id for line in lines]).select_related("parent")
    }
    routed = []
    for line in lines:
        batch = batches.get(line.lot_id)
        routed.append(replace(line, to_step=_to_step(batch, line, destination_id, purpose)) if batch else line)
    if before := earlier(event_context, KIND, as_reported(origin_id, destination_id, purpose, routed, papers)):
        return Consignment.objects.get(sent_event=before)
    if origin_id == destination_id:
        raise Refused("same_site")
    if not routed:
        raise Refused("nothing_to_send")
    if purpose == SentFor.RETURN and not papers.note:
        raise Refused("return_needs_a_reason")
    if purpose != SentFor.RETURN:
        # Asked are the checks of steps that these pieces have been through: all, once they are through all.
        on = event_context.at.astimezone(Site.objects.get(pk=origin_id).zone).date()
        refuse_unusable((after_step(line.lot_id, line.from_step) for line in routed), "send", on)
    lots = [line.lot_id for line in routed]
    lock_batches_of(lots)
    consignment, met = dispatch(
        event_context=event_context,
        origin_id=origin_id,
        destination_id=destination_id,
        purpose=purpose,
        lines=routed,
        papers=papers,
    )
    for received in met:
        hold_surplus(event_context, received)
    # The goods may have been counted there, and used up, before this was told.
    review(lots, event_context.at)
    return consignment


def _to_step(batch: Batch, line: SendLine, destination_id: int, purpose: str) -> int:
    """The step that these pieces wait for, which must be at the destination; 0 when all are done.

    A return names the step there that is to be done again.
    """
    if purpose == SentFor.RETURN:
        there = [o.number for o in way_of(batch) if o.site_id == destination_id]
        finished = line.to_step == line.from_step == 0 and line.condition == Condition.STOCK
        if line.to_step not in there and not finished:
            raise Refused("return_needs_a_step", batch=batch.code)
        return line.to_step
    if line.from_step == 0:
        return 0
    for operation in way_of(batch):
        if operation.number > line.from_step and operation.kind != OperationKind.PREPARE:
            if operation.site_id != destination_id:
                raise Refused("wrong_destination", batch=batch.code, site=operation.site.name, verb=operation.verb)
            return operation.number
    return 0
