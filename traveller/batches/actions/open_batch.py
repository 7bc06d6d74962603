"""A batch comes to be, with the steps of its part's present routing. Called inside an action (orders' release)."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from traveller.batches.models import Batch, Step
from traveller.journal.models import Event
from traveller.journal.refusal import Refused
from traveller.journal.subjects import register
from traveller.products.frozen import operations_of
from traveller.products.models import Part, Routing


def open_batch(
    event: Event, part: Part, *, uid: UUID, wanted: int, start: int, destination_id: int, due_on: date | None
) -> Batch:
    """The routing of this moment stays the batch's own, whatever is changed later."""
    routing = Routing.objects.filter(part=part).order_by("-revision").first()
    # A part may have a bill and no step yet.
    if routing is None or not operations_of(routing.pk):
        raise Refused("no_routing", part=part.number)
    subject = register(uid, "batch")
    batch = Batch.objects.create(
        subject=subject,
        code=subject.code or "",
        part=part,
        routing=routing,
        wanted=wanted,
        start=start,
        destination_id=destination_id,
        due_on=due_on,
        released_event=event,
        released_at=event.happened_at,
    )
    Step.objects.bulk_create(
        [
            Step(
                batch=batch,
                operation_id=operation.pk,
                site_id=operation.site_id,
                number=operation.number,
                open_cavities=operation.cavities,
            )
            for operation in operations_of(routing.pk)
        ]
    )
    return batch
