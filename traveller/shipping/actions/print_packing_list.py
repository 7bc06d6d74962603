"""The packing list of a carton is printed, and the print is remembered."""

from __future__ import annotations

from dataclasses import dataclass

from traveller.journal.action import action
from traveller.journal.event_context import EventContext
from traveller.journal.models import Event
from traveller.journal.record import earlier, record
from traveller.journal.refusal import Refused
from traveller.paper.canvas import PaperSize
from traveller.shipping.models import Carton
from traveller.shipping.papers import packing_list_pdf

KIND = "packing list printed"


@dataclass(frozen=True, slots=True)
class PrintedList:
    event: Event
    carton: Carton
    pdf: bytes


@action
def print_packing_list(*, event_context: EventContext, carton_id: int, size: PaperSize | None = None) -> PrintedList:
    """Each print is an event; the same request again draws the same list and is not counted again."""
    reported = {"carton": carton_id, "size": size}
    before = earlier(event_context, KIND, reported)
    carton = Carton.objects.select_related("subject", "site").get(pk=carton_id)
    if before is None:
        if carton.opened_event_id:
            raise Refused("carton_opened", carton=carton.code)
        before = record(
            event_context=event_context, kind=KIND, subjects=[carton.subject], reported=reported, site_id=carton.site_id
        )
    on = event_context.at.astimezone(carton.site.zone).date()
    return PrintedList(before, carton, packing_list_pdf(carton_id, on=on, size=size))
