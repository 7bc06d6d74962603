"""What a closed batch did not bring is made again: a batch of its own, for the same order lines."""

from __future__ import annotations

from uuid import uuid5

from django.db.models import F

from traveller.batches.actions.open_batch import open_batch
from traveller.batches.models import Batch
from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.orders.missing import missing
from traveller.orders.models import BatchShare
from traveller.orders.network import yield_step
from traveller.products.models import Routing
from traveller.rules.yields import start_quantity

KIND = "made again"


@action
def make_again(*, event_context: EventContext, batch_id: int) -> Batch:
    """Started for what is missing through the yields of the part's present routing; due when the first one was.

    Its material is not reserved: what lies at the shops is used, and the list of what is short says the rest.
    """
    reported = {"batch": batch_id}
    if before := earlier(event_context, KIND, reported):
        return Batch.objects.get(released_event=before, parent=None)
    first = Batch.objects.select_for_update().select_related("part", "subject").get(pk=batch_id)
    short = missing(batch_id=first.pk)
    if not short:
        raise Refused("nothing_missing", batch=first.code)
    wanted = sum(row.missing for row in short)
    event = record(
        event_context=event_context,
        kind=KIND,
        subjects=[first.subject, *dict.fromkeys(row.line.order.subject_id for row in short)],
        reported=reported,
        wanted=wanted,
        shares={str(row.line.pk): row.missing for row in short},
    )
    routing = Routing.objects.filter(part=first.part).order_by("-revision").first()
    steps = [yield_step(operation) for operation in routing.operations.order_by("number")] if routing else []
    batch = open_batch(
        event,
        first.part,
        uid=uuid5(event_context.uid, "batch"),
        wanted=wanted,
        start=start_quantity(wanted, steps),
        destination_id=first.destination_id,
        due_on=first.due_on,
    )
    for row in short:
        # The first batch keeps what it brought; what it owed is promised of the new one.
        BatchShare.objects.filter(batch=first, line=row.line).update(quantity=F("quantity") - row.missing)
        BatchShare.objects.create(batch=batch, line=row.line, quantity=row.missing)
    BatchShare.objects.filter(batch=first, quantity=0).delete()
    return batch
