"""The packing list of a carton, from what is in it."""

from __future__ import annotations

from datetime import date
from typing import cast

from django.db.models import Sum

from traveller.batches.status import statuses_of
from traveller.ledger.models import Account, Condition
from traveller.paper.canvas import PaperSize
from traveller.paper.packing_list import PackingLine, PackingList, Party, draw_packing_list
from traveller.paper.words import UNITS
from traveller.rules.codes import show_code
from traveller.rules.moments import on_clocks
from traveller.shipping.models import Carton, CartonLot

MG_PER_GRAM = 1000


def packing_list(carton_id: int, *, on: date) -> PackingList:
    """What the list says on a day: the line as far as this carton goes, what was added, what follows, what stops it."""
    carton = Carton.objects.select_related("line__order", "line__part", "site", "shipment").get(pk=carton_id)
    line, order = carton.line, carton.line.order
    lots = list(carton.lots.select_related("lot__part").order_by("id"))
    sealed = Carton.objects.filter(opened_event=None)
    up_to_here = sealed.filter(line=line, pk__lte=carton.pk).aggregate(total=Sum("quantity"))["total"] or 0
    # Cartons that leave together count together; until then, all that wait for the order.
    together = list(
        sealed.filter(line__order=order, shipment=carton.shipment).order_by("pk").values_list("pk", flat=True)
    )
    finished = [row for row in lots if row.lot.part_id == line.part_id]
    return PackingList(
        carton_code=carton.code,
        carton=together.index(carton.pk) + 1 if carton.pk in together else 1,
        cartons=max(1, len(together)),
        order=order.number,
        sender=Party(carton.site.name, _lines(carton.site.address), carton.site.phone),
        receiver=Party(order.customer, _lines(order.ship_to)),
        packed_on=on_clocks(carton.packed_at, carton.site.zone).date(),
        lines=(
            PackingLine(
                line=str(line.number),
                product=line.part.name,
                variant=line.part.variant,
                ordered=line.quantity,
                shipped=carton.quantity,
                to_follow=max(0, line.quantity - up_to_here),
                lots=tuple(row.lot.code for row in finished),
            ),
            *_added(lots, line.part_id),
        ),
        stopped=_stopped_lots(carton, lots, on),
        net_weight=_net_weight(lots),
        packer=carton.packer,
    )


def _stopped_lots(carton: Carton, lots: list[CartonLot], on: date) -> tuple[str, ...]:
    """What of a carton that has not left may not leave; a shipment that is gone is not called back by its paper."""
    if carton.shipment_id:
        return ()
    accounts = Account.objects.filter(
        lot__in=[row.lot_id for row in lots], site=carton.site, condition=Condition.PACKED, balance__gt=0
    ).select_related("lot__part", "site")
    statuses = statuses_of(accounts, on)
    return tuple(
        f"{account.lot.part.title}, {show_code(account.lot.code)}: {statuses[account.pk].word}"
        for account in accounts
        if statuses[account.pk].stop is not None
    )


def packing_list_pdf(carton_id: int, *, on: date, size: PaperSize | None = None) -> bytes:
    """Drawn for the site's own paper unless told otherwise."""
    paper = Carton.objects.values_list("site__paper", flat=True).get(pk=carton_id)
    return draw_packing_list(packing_list(carton_id, on=on), size=size or cast(PaperSize, paper))


def _lines(text: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in text.splitlines() if line.strip())


def _added(lots: list[CartonLot], finished_id: int) -> list[PackingLine]:
    """What was put in beside the product, part by part."""
    by_part: dict[int, list[CartonLot]] = {}
    for row in lots:
        if row.lot.part_id != finished_id:
            by_part.setdefault(row.lot.part_id, []).append(row)
    return [
        PackingLine(
            line="",
            product=rows[0].lot.part.name,
            variant=rows[0].lot.part.variant,
            ordered=sum(row.quantity for row in rows),
            shipped=sum(row.quantity for row in rows),
            to_follow=0,
            unit=UNITS.get(rows[0].lot.part.unit, rows[0].lot.part.unit),
            lots=tuple(row.lot.code for row in rows),
        )
        for rows in by_part.values()
    ]


def _net_weight(lots: list[CartonLot]) -> str:
    """In kilograms when the mass of every piece is known, else nothing: a guess is worse than a blank."""
    masses = [row.lot.part.piece_mass_mg for row in lots]
    if not masses or any(mass is None for mass in masses):
        return ""
    grams = sum((mass or 0) * row.quantity for mass, row in zip(masses, lots, strict=True)) // MG_PER_GRAM
    return f"{grams // 1000}.{grams % 1000:03d} kg"
