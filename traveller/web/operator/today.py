"""The shop's list: what is here, what comes, what is to be sent."""

from __future__ import annotations

from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse

from traveller.batches import queries
from traveller.consignments.models import Consignment
from traveller.ledger.holds import open_on
from traveller.products.models import Part
from traveller.web.operator.shop import at_work, page, site_of
from traveller.web.operator.telling import just_told


@at_work
def today(request: HttpRequest) -> HttpResponse:
    site = site_of(request)
    to_send = queries.lots_waiting_to_be_sent(site.pk)
    held = {hold.lot_id for hold in open_on([account.lot_id for account in to_send])}
    coming = (
        Consignment.objects.filter(destination=site, received_at=None)
        .select_related("origin")
        .prefetch_related(Prefetch("lines__lot__part", Part.objects.defer("picture")))
        .order_by("sent_at")
    )
    context = {
        "tasks": queries.tasks_at(site.pk),
        "coming": coming,
        "to_send": [account for account in to_send if account.lot_id not in held],
        "set_apart": [account for account in to_send if account.lot_id in held],
        "confirmed": just_told(request),
    }
    return page(request, "today.html", context)
