"""What can be packed, what is short before anybody starts, and what a scanned code means to the packer."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from traveller.journal.refusal import Refusal
from traveller.ledger.models import Lot
from traveller.orders.models import OrderLine
from traveller.products.models import Part
from traveller.products.queries import present_bill
from traveller.rules.codes import Damaged, nearest, read
from traveller.shipping.kit import judge, packable
from traveller.shipping.models import Carton, Shipment
from traveller.shipping.queries import cartons_waiting, lines_to_pack, shelves
from traveller.web.packer.bench import packs, page, site_of, today_at
from traveller.web.photos import asker_of, code_in_photo
from traveller.web.who import who_of
from traveller.web.words import say


@packs
def lines(request: HttpRequest) -> HttpResponse:
    site = site_of(request)
    found = lines_to_pack(site, on=today_at(site))
    orders: dict[int, dict[str, Any]] = {}
    for carton in cartons_waiting(site):
        row = orders.setdefault(carton.line.order_id, {"order": carton.line.order, "cartons": []})
        row["cartons"].append(carton)
    ready = [row for row in found if row.now]
    context = {
        "ready": ready,
        "waiting": [row for row in found if not row.now],
        "orders": list(orders.values()),
        "first": ready[0] if ready else None,
    }
    return page(request, "lines.html", context)


@packs
def typed(request: HttpRequest) -> HttpResponse:
    return _open(request, request.GET.get("code", ""))


@packs
def scanned(request: HttpRequest, code: str, step: int | None = None) -> HttpResponse:
    """From paper: the step does not matter to who packs."""
    return _open(request, code)


@require_POST
@packs
def photo(request: HttpRequest) -> HttpResponse:
    found = code_in_photo(request.FILES.get("photo"), asker_of(who_of(request)))
    if isinstance(found, str):
        return _open(request, found)
    return page(request, "unknown.html", {"near": []}, refusal=found, status=422)


def _open(request: HttpRequest, text: str) -> HttpResponse:
    """A carton, a shipment, or a lot: then the lines that it fits."""
    scan = read(text)
    if isinstance(scan, Damaged):
        figures = {"text": scan.text[:60]}
        return _unknown(request, scan.text, Refusal("damaged_code", {**figures}), 422)
    site = site_of(request)
    if Carton.objects.filter(code=scan.code, site=site).exists():
        return redirect("pack_carton", scan.code)
    if Shipment.objects.filter(code=scan.code, site=site).exists():
        return redirect("pack_shipment", scan.code)
    lot = Lot.objects.select_related("part").filter(code=scan.code).first()
    if lot is None or not _for_packing(lot.part):
        return _unknown(request, scan.code, Refusal("unknown_code", {"code": scan.code}), 404)
    return _fits(request, lot)


def _for_packing(part: Part) -> bool:
    """Something that is ordered, or added to what is ordered; all else is another reader's."""
    return (
        OrderLine.objects.filter(part=part).exists()
        or present_bill().filter(component=part, step=0, routing__part__in=OrderLine.objects.values("part")).exists()
    )


def _fits(request: HttpRequest, lot: Lot) -> HttpResponse:
    """The open lines whose kit takes this lot; the gravest reason where none may have it."""
    site = site_of(request)
    on = today_at(site)
    stop = packable([lot.pk], site, on=on)[lot.pk]
    rows = [
        (row, judge(row.line, lot, site, stop=stop))
        for row in lines_to_pack(site, on=on)
        if any(part.part.pk == lot.part_id for part in row.parts)
    ]
    fits = [row for row, look in rows if look.ok]
    seen = next((look for _, look in rows if not look.ok), None) if not fits else None
    context = {"lot": lot, "fits": fits, "why": say(seen.code, seen.figures) if seen else ""}
    return page(request, "fits.html", context, status=409 if seen else 200)


def _unknown(request: HttpRequest, text: str, refusal: Refusal, status: int) -> HttpResponse:
    """No such thing at this bench: the nearest codes of what lies here, with pictures."""
    site = site_of(request)
    on = today_at(site)
    wanted = {part.part.pk for row in lines_to_pack(site, on=on) for part in row.parts}
    known = {shelf.code: shelf.lot_id for shelf in shelves(wanted, site, on=on)}
    lots = Lot.objects.select_related("part").in_bulk([known[code] for code in nearest(text, known)])
    near = [lots[known[code]] for code in nearest(text, known)]
    return page(request, "unknown.html", {"near": near}, refusal=refusal, status=status)
