"""Any code, scanned, typed or out of a printed address, leads to its page; a damaged one to the nearest."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from traveller.batches.models import Batch
from traveller.batches.reads.own_numbers import by_number
from traveller.dispatches.models import Consignment
from traveller.journal.models import Subject
from traveller.ledger.models import Lot
from traveller.orders.models import Order
from traveller.products.models import Part
from traveller.rules.codes import Damaged, nearest, read
from traveller.shipping.models import Carton, Shipment
from traveller.web.founder.desk.frame import Desk, founder_page, link_to, show

# Whoever holds a damaged label holds something of late; comparing with every code ever given would take long.
COMPARED_MOST = 5000


@dataclass(frozen=True, slots=True)
class Near:
    """A thing whose code is close to what was read."""

    code: str
    title: str
    where: str
    link: str
    picture: str


@founder_page
@require_safe
def find(request: HttpRequest, desk: Desk) -> HttpResponse:
    """To the page of what was asked for, or the nearest codes with site and picture."""
    text = request.GET.get("code", "").strip()[:300]
    if not text:
        return redirect("home")
    order = Order.objects.filter(number__iexact=text).first()
    if order is not None:
        return redirect("order", order.number)
    scan = read(text)
    if not isinstance(scan, Damaged):
        page = page_of(scan.code)
        if page:
            return redirect(f"{page}#step-{scan.step}" if scan.step is not None else page)
    called = by_number(text)
    if called is not None:
        return redirect("batch", called.code)
    outside = Lot.objects.filter(outside_number__iexact=text).first()
    if outside is not None:
        return redirect("lot", outside.code)
    cleaned = scan.text if isinstance(scan, Damaged) else scan.code
    near = nearest_things(cleaned)
    context = {
        "section": "",
        "title": _("Not found"),
        "sentence": _sentence(text, scan if isinstance(scan, Damaged) else None, bool(near)),
        "typed": text[:60],
        "near": near,
    }
    return show(request, desk, "desk/find.html", context, status=404)


def page_of(code: str) -> str:
    """The address of the page of a thing, by its printed code; none where there is no such thing."""
    if Batch.objects.filter(code=code).exists():
        return link_to("batch", code)
    if Lot.objects.filter(code=code).exists():
        return link_to("lot", code)
    if Consignment.objects.filter(code=code).exists():
        return link_to("consignment", code)
    carton = Carton.objects.filter(code=code).select_related("line__order").first()
    if carton is not None:
        return link_to("order", carton.line.order.number) + f"#carton-{code}"
    shipment = Shipment.objects.filter(code=code).select_related("order").first()
    if shipment is not None:
        return link_to("order", shipment.order.number)
    subject = Subject.objects.filter(code=code, order__isnull=False).select_related("order").first()
    if subject is not None:
        return link_to("order", subject.order.number)
    return link_to("purchase", code) if Subject.objects.filter(code=code, purchase__isnull=False).exists() else ""


def _sentence(text: str, damaged: Damaged | None, near: bool) -> str:
    """What is wrong with what was read."""
    shown = {"text": text[:60]}
    if damaged is None:
        said = _("Nothing here has the code %(text)s.") % shown
    elif damaged.why == "length":
        said = _("“%(text)s” is no code of ours: a code has seven characters.") % shown
    elif damaged.why == "character":
        said = _("“%(text)s” has a character that no code of ours has.") % shown
    else:
        said = _("“%(text)s” has a slip in it: one of its characters is wrong.") % shown
    return f"{said} {_('Is it one of these?')}" if near else said


def nearest_things(text: str) -> list[Near]:
    """Batches, lots and consignments with a code close to this, each with where it is."""
    known = Subject.objects.exclude(code=None).exclude(kind="order").order_by("-id").values_list("code", flat=True)
    codes = nearest(text, [code for code in known[:COMPARED_MOST] if code])
    if not codes:
        return []
    batches = {row.code: row for row in Batch.objects.filter(code__in=codes).select_related("part", "destination")}
    lots = {row.code: row for row in Lot.objects.filter(code__in=codes).select_related("part")}
    sent = {row.code: row for row in Consignment.objects.filter(code__in=codes).select_related("origin", "destination")}
    places = _sites([row.pk for row in lots.values()])
    found = []
    for code in codes:
        if code in batches:
            batch = batches[code]
            where = places.get(batch.lot_id or 0, _("nothing made yet"))
            found.append(Near(code, batch.part.title, where, link_to("batch", code), _picture(batch.part)))
        elif code in lots:
            lot = lots[code]
            found.append(Near(code, lot.part.title, places.get(lot.pk, ""), link_to("lot", code), _picture(lot.part)))
        elif code in sent:
            row = sent[code]
            title = _("Consignment to %(site)s") % {"site": row.destination.name}
            found.append(Near(code, title, row.origin.name, link_to("consignment", code), ""))
    return found


def _sites(lot_ids: list[int]) -> dict[int, str]:
    """The sites where each lot lies."""
    lying = Lot.objects.filter(
        pk__in=lot_ids, accounts__balance__gt=0, accounts__condition__in=["in_process", "rework", "stock", "packed"]
    ).order_by("accounts__site__name")  # fmt: skip
    names: dict[int, list[str]] = {}
    for lot, site in lying.values_list("pk", "accounts__site__name"):
        if site not in names.setdefault(lot, []):
            names[lot].append(site)
    return {lot: ", ".join(sites) for lot, sites in names.items()}


def _picture(part: Part) -> str:
    return link_to("part_picture", part.picture_digest) if part.picture_digest else ""
