"""A shop's own lot number, told with a count or an arrival: news by itself, whose id follows from the form's."""

from __future__ import annotations

from django.http import HttpRequest

from traveller.batches.actions.tell_number import NUMBER_MOST, tell_number
from traveller.batches.models import Batch
from traveller.journal.event_context import EventContext
from traveller.web.door import attempt
from traveller.web.operator.shop import site_of


def note_number(
    request: HttpRequest, event_context: EventContext, *, batch_id: int | None = None, lot_id: int | None = None
) -> None:
    """What it came with is recorded already: a number that cannot be taken is no reason to ask again."""
    number = request.POST.get("own_number", "").strip()[:NUMBER_MOST]
    if not number:
        return
    if batch_id is None:
        batch_id = Batch.objects.filter(lot=lot_id or 0).values_list("pk", flat=True).first()
    if batch_id is not None:
        own = event_context.derived("own number")
        attempt(tell_number, event_context=own, batch_id=batch_id, site_id=site_of(request).pk, number=number)
