"""A carton: what is in it, its packing list; opened again with a reason before it leaves; shipped with others."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from traveller.journal.refusal import Refusal
from traveller.orders.models import Order
from traveller.shipping.actions.open_carton import open_carton
from traveller.shipping.actions.print_packing_list import print_packing_list
from traveller.shipping.actions.ship import ship
from traveller.shipping.models import Carton, Shipment
from traveller.web.door import attempt, event_context_from
from traveller.web.packer.bench import actor_of, carton_here, cartons_of, packs, page, site_of


@packs
def carton(request: HttpRequest, code: str) -> HttpResponse:
    return _show(request, carton_here(request, code))


def _show(request: HttpRequest, row: Carton, *, refusal: Refusal | None = None) -> HttpResponse:
    lots = list(row.lots.select_related("lot__part").defer("lot__part__picture").order_by("id"))
    context: dict[str, Any] = {
        "carton": row,
        "line": row.line,
        "finished": [lot for lot in lots if lot.lot.part_id == row.line.part_id],
        "added": [lot for lot in lots if lot.lot.part_id != row.line.part_id],
        "left": max(0, row.line.quantity - row.line.packed),
        "reason": request.POST.get("reason", ""),
    }
    return page(request, "carton.html", context, refusal=refusal)


@require_POST
@packs
def open_again(request: HttpRequest, code: str) -> HttpResponse:
    row = carton_here(request, code)
    event_context = event_context_from(request, actor_of(request), site_of(request).zone)
    if isinstance(event_context, Refusal):
        return _show(request, row, refusal=event_context)
    reason = request.POST.get("reason", "").strip()[:300]
    answer = attempt(open_carton, event_context=event_context, carton_id=row.pk, reason=reason)
    if isinstance(answer, Refusal):
        return _show(request, row, refusal=answer)
    return redirect("pack_carton", code)


@require_POST
@packs
def packing_list(request: HttpRequest, code: str) -> HttpResponse:
    """The list as PDF; every print is remembered."""
    row = carton_here(request, code)
    event_context = event_context_from(request, actor_of(request), site_of(request).zone)
    if isinstance(event_context, Refusal):
        return _show(request, row, refusal=event_context)
    printed = attempt(print_packing_list, event_context=event_context, carton_id=row.pk)
    if isinstance(printed, Refusal):
        return _show(request, row, refusal=printed)
    answer = HttpResponse(printed.pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="packing-list-{row.code}.pdf"'
    return answer


@packs
def ship_order(request: HttpRequest, order_id: int) -> HttpResponse:
    """Choose the cartons that leave now; all of them unless some are left out."""
    order = get_object_or_404(Order, pk=order_id)
    waiting = list(cartons_of(request, order.pk).filter(shipment=None))
    reported = request.method == "POST"
    chosen = {int(pk) for pk in request.POST.getlist("carton") if pk.isascii() and pk.isdecimal()}
    context: dict[str, Any] = {
        "order": order,
        "cartons": [(row, row.pk in chosen if reported else True) for row in waiting],
        "pieces": sum(row.quantity for row in waiting),
        "carrier": request.POST.get("carrier", "")[:80],
    }
    if not reported:
        return page(request, "ship.html", context)
    event_context = event_context_from(request, actor_of(request), site_of(request).zone)
    if isinstance(event_context, Refusal):
        return page(request, "ship.html", context, refusal=event_context)
    answer = attempt(
        ship,
        event_context=event_context,
        order_id=order.pk,
        site_id=site_of(request).pk,
        carton_ids=sorted(chosen),
        carrier=context["carrier"].strip(),
    )
    if isinstance(answer, Refusal):
        return page(request, "ship.html", context, refusal=answer)
    return redirect("pack_shipment", answer.code)


@packs
def shipment(request: HttpRequest, code: str) -> HttpResponse:
    rows = Shipment.objects.filter(site=site_of(request)).select_related("order")
    row = get_object_or_404(rows, code=code.replace("\0", ""))
    cartons = list(row.cartons.select_related("line__part").defer("line__part__picture"))
    to_follow = [
        (line, line.quantity - line.shipped)
        for line in row.order.lines.select_related("part").defer("part__picture")
        if line.shipped < line.quantity
    ]
    pieces = sum(carton.quantity for carton in cartons)
    context = {"shipment": row, "cartons": cartons, "pieces": pieces, "to_follow": to_follow}
    return page(request, "shipment.html", context)
