"""One carton for one order line: scan each lot, a big yes or a stop with why; pack when the kit is complete."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from traveller.journal.refusal import Refusal
from traveller.ledger.models import Lot
from traveller.orders.models import OrderLine
from traveller.shipping.actions.pack import pack
from traveller.shipping.kit import look_at
from traveller.shipping.models import Carton
from traveller.web.door import attempt, event_context_from
from traveller.web.packer import progress as kits
from traveller.web.packer.bench import actor_of, line_here, packs, page, site_of, today_at
from traveller.web.packer.kit_page import shelves_here, show, takes_of, wrong_figures
from traveller.web.packer.progress import Progress
from traveller.web.parts.figures import read_count
from traveller.web.photos import asker_of, code_in_photo
from traveller.web.who import who_of
from traveller.web.words import say


@packs
def line(request: HttpRequest, line_id: int) -> HttpResponse:
    row = line_here(line_id)
    if request.method != "POST":
        return show(request, row, kits.recalled(request, row.pk))
    # A scan from another page comes without the kit so far: it adds to what is kept.
    progress = kits.recalled(request, row.pk) if "more" in request.POST else kits.posted(request)
    dropped = request.POST.get("drop", "")
    if dropped.isascii() and dropped.isdecimal():
        progress.drop(int(dropped))
        kits.keep(request, row.pk, progress)
        return redirect("pack_line", row.pk)
    code = request.POST.get("code", "").strip()[:300]
    if request.FILES.get("photo"):
        found = code_in_photo(request.FILES["photo"], asker_of(who_of(request)))
        if isinstance(found, Refusal):
            kits.keep(request, row.pk, progress)
            return show(request, row, progress, refusal=found, status=422)
        code = found
    # A code that was scanned and not looked at yet is never packed over.
    if code or request.POST.get("do") != "pack":
        return _look(request, row, progress, code)
    return _pack(request, row, progress)


def _look(request: HttpRequest, row: OrderLine, progress: Progress, code: str) -> HttpResponse:
    """A yes goes into the kit; a stop says why, and the kit stays as it was."""
    kits.keep(request, row.pk, progress)
    if not code:
        wrong = wrong_figures(progress)
        return show(request, row, progress, status=422) if wrong else redirect("pack_line", row.pk)
    site = site_of(request)
    look = look_at(row, code, site, on=today_at(site))
    if look.ok and look.lot:
        progress.add(look.lot.pk)
        kits.keep(request, row.pk, progress)
        return redirect(f"{reverse('pack_line', args=[row.pk])}?yes={look.lot.code}")
    near = look.figures.get("near")
    context = {
        "line": row,
        "why": say(look.code, look.figures),
        "lot": look.lot,
        "typed": code[:60],
        "carton": look.figures.get("carton"),
        "near": Lot.objects.filter(code__in=near).select_related("part") if isinstance(near, list) else [],
    }
    return page(request, "stop.html", context, status=422 if look.code == "damaged_code" else 409)


def _pack(request: HttpRequest, row: OrderLine, progress: Progress) -> HttpResponse:
    kits.keep(request, row.pk, progress)
    if wrong_figures(progress):
        return show(request, row, progress, status=422)
    site = site_of(request)
    quantity = int(read_count(progress.quantity))
    event_context = event_context_from(request, actor_of(request), site.zone)
    if isinstance(event_context, Refusal):
        return show(request, row, progress, refusal=event_context)
    twice = _packed_before(row, event_context.uid, quantity, progress)
    if twice:
        return redirect("pack_carton", twice.code)
    takes = takes_of(row, progress, quantity, shelves_here(request, row, quantity))
    carton = attempt(
        pack,
        event_context=event_context,
        line_id=row.pk,
        site_id=site.pk,
        quantity=quantity,
        lots=[(lot_id, take) for lot_id, take in takes.items() if take],
        packer=event_context.actor.person,
    )
    if isinstance(carton, Refusal):
        row.refresh_from_db(fields=["packed"])
        return show(request, row, progress, refusal=carton)
    kits.forget_scans(request, row.pk)
    return redirect("pack_carton", carton.code)


def _packed_before(row: OrderLine, uid: UUID, quantity: int, progress: Progress) -> Carton | None:
    """The carton that this very form became: what it took is no longer on the shelf to be reckoned with again."""
    carton = Carton.objects.filter(packed_event__uid=uid, line=row, quantity=quantity).first()
    same = carton and set(carton.lots.values_list("lot_id", flat=True)) <= set(progress.lots)
    return carton if same else None
