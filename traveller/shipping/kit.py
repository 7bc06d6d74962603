"""Is this kit right? What a kit of an order line takes, and what may be said of a lot that is held up to it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import cast

from django.db.models import Sum

from sites.models import Site
from traveller.batches.proof.stops import Stop
from traveller.batches.steps.consume import due
from traveller.batches.usable import usable
from traveller.journal.models import Subject
from traveller.journal.refusal import Figure
from traveller.ledger.models import Account, Condition, Lot
from traveller.orders import reserved
from traveller.orders.models import BatchShare, OrderLine
from traveller.products.models import Part
from traveller.products.queries import present_bill
from traveller.rules import codes
from traveller.rules.units import BaseUnit, show_quantity
from traveller.shipping.queries import cartons_with


@dataclass(frozen=True, slots=True)
class KitPart:
    """So much of a part goes into a kit; the finished part itself, or what is added at packing."""

    part: Part
    quantity: int
    finished: bool


@dataclass(frozen=True, slots=True)
class Notice:
    """The packer may go on, knowing this."""

    code: str
    figures: dict[str, Figure]


@dataclass(frozen=True, slots=True)
class Look:
    """The answer to a scan: `code` is "right" when ok, else why not. `here`: pieces of the lot at this site."""

    ok: bool
    code: str
    figures: dict[str, Figure] = field(default_factory=dict)
    lot: Lot | None = None
    here: int = 0
    warnings: tuple[Notice, ...] = ()


def kit_of(line: OrderLine, quantity: int) -> list[KitPart]:
    """What packing `quantity` takes. What is added is rounded up once, over all that the line packs."""
    added: dict[int, int] = {}
    parts: dict[int, Part] = {}
    for row in present_bill().filter(routing__part=line.part_id, step=0).select_related("component").order_by("id"):
        added[row.component_id] = added.get(row.component_id, 0) + row.per_thousand
        parts[row.component_id] = row.component
    before, after = line.packed, line.packed + quantity
    return [
        KitPart(line.part, quantity, finished=True),
        *(KitPart(parts[pk], due(per, after) - due(per, before), finished=False) for pk, per in added.items()),
    ]


def most_of(line: OrderLine) -> int:
    """The line's quantity with what the customer takes beyond it."""
    return line.quantity + line.quantity * line.over_ppm // 1_000_000


def least_of(line: OrderLine) -> int:
    """The fewest pieces with which the customer takes the line for complete."""
    return line.quantity - line.quantity * line.under_ppm // 1_000_000


def look_at(line: OrderLine, scanned: str, site: Site, *, on: date, quantity: int | None = None) -> Look:
    """A scanned code against an order line at a packing site; nothing is changed. `quantity`: wanted of it."""
    read = codes.read(scanned)
    kit = kit_of(line, quantity or 0)
    if isinstance(read, codes.Damaged):
        return Look(False, "damaged_code", {"text": read.text, "why": read.why, "near": _near(read.text, kit, site)})
    lot = Lot.objects.select_related("part").filter(code=read.code).first()
    if lot is None:
        return _no_lot(read.code, kit, site)
    stop = packable([lot.pk], site, on=on)[lot.pk]
    return judge(line, lot, site, stop=stop, quantity=quantity, kit=kit)


def packable(lots: Iterable[int], site: Site, *, on: date) -> dict[int, Stop | None]:
    """What stops each of these lots from being packed at a site; as many queries for many as for one."""
    return usable(lots, "pack", on, site_id=site.pk)


def judge(
    line: OrderLine,
    lot: Lot,
    site: Site,
    *,
    stop: Stop | None,
    quantity: int | None = None,
    kit: Iterable[KitPart] | None = None,
) -> Look:
    """May this lot go into the line's carton? The gravest reason first, with its figures; `stop`: see `packable`."""
    wanted = list(kit_of(line, quantity or 0) if kit is None else kit)
    here = _here(lot, site)
    refused = (
        _wrong_part(lot, wanted)
        or _in_cartons(lot, site, stop)
        or ((stop.code, stop.figures) if stop else None)
        or _not_enough(site, lot, here, quantity)
        or _too_many(line, lot, quantity)
    )
    if refused:
        code, figures = refused
        return Look(False, code, {"lot": lot.code, "part": lot.part.title, **figures}, lot, here)
    warnings = tuple(_kept_for_others(line, lot, here, quantity or 1))
    return Look(True, "right", {"lot": lot.code, "part": lot.part.title, "here": here}, lot, here, warnings)


_Reason = tuple[str, dict[str, Figure]] | None


def _here(lot: Lot, site: Site) -> int:
    row = Account.objects.filter(lot=lot, site=site, condition=Condition.STOCK, step=0).first()
    return row.balance if row else 0


def _wrong_part(lot: Lot, kit: list[KitPart]) -> _Reason:
    if any(row.part.pk == lot.part_id for row in kit):
        return None
    wanted: Figure = [row.part.title for row in kit]
    for row in kit:
        # The dear mistake: the right thing in the wrong colour.
        if row.part.name == lot.part.name:
            return "wrong_variant", {"found": lot.part.variant, "wanted": row.part.variant}
    return "wrong_part", {"found": lot.part.title, "wanted": wanted}


def _in_cartons(lot: Lot, site: Site, stop: Stop | None) -> _Reason:
    """Nothing of it lies on the shelf, since it was packed here: then the carton is named, not whom to ask."""
    if stop is None or stop.code != "not_here":
        return None
    found = [row for row in cartons_with([lot.pk]) if row.carton.site_id == site.pk]
    if not found:
        return None
    waiting = [row for row in found if row.carton.shipment_id is None]
    last = (waiting or found)[-1].carton
    quantity = sum(row.quantity for row in waiting or found)
    figures: dict[str, Figure] = {
        "quantity": quantity if lot.part.unit == "C62" else show_quantity(quantity, cast(BaseUnit, lot.part.unit)),
        "cartons": len(waiting or found),
        "carton": last.code,
        "order": last.line.order.number,
        "packed_at": last.packed_at.isoformat(),
        "site": site.name,
    }
    if not waiting:
        return "left_in_carton", figures
    return ("in_carton" if len(waiting) == 1 else "in_several_cartons"), figures


def _not_enough(site: Site, lot: Lot, here: int, quantity: int | None) -> _Reason:
    if here >= (quantity or 0):
        return None
    return "not_enough_here", {"there": here, "wanted": quantity or 0, "site": site.name, "unit": lot.part.unit}


def _too_many(line: OrderLine, lot: Lot, quantity: int | None) -> _Reason:
    if lot.part_id != line.part_id:
        return None
    most = most_of(line)
    if line.packed + (quantity or 1) <= most:
        return None
    return "more_than_ordered", {
        "ordered": line.quantity,
        "most": most,
        "packed": line.packed,
        "wanted": quantity or 1,
    }


def _kept_for_others(line: OrderLine, lot: Lot, here: int, quantity: int) -> Iterable[Notice]:
    """Reserved for, or made for, another line: what is left beyond that does not reach."""
    others: dict[int, int] = {}
    for keep in reserved.kept(lot_ids=[lot.pk]):
        if keep.line_id != line.pk:
            others[keep.line_id] = others.get(keep.line_id, 0) + keep.left
    own = BatchShare.objects.filter(batch__lot=lot)
    if not own.filter(line=line).exists():
        # Made for others: what they have packed of this lot no longer waits for them.
        gone = _gone(lot)
        for share in own.order_by("id"):
            part = max(0, share.quantity - gone)
            gone = max(0, gone - share.quantity)
            others[share.line_id] = others.get(share.line_id, 0) + part
    if here - sum(others.values()) >= quantity:
        return
    rows = OrderLine.objects.select_related("order").in_bulk([pk for pk, kept in others.items() if kept])
    for pk, other in rows.items():
        yield Notice(
            "reserved_for_another",
            {"order": other.order.number, "line": other.number, "quantity": others[pk], "unit": lot.part.unit},
        )


def _gone(lot: Lot) -> int:
    conditions = (Condition.MADE_INTO, Condition.PACKED, Condition.SOLD_TO)
    total = Account.objects.filter(lot=lot, condition__in=conditions).aggregate(total=Sum("balance"))["total"]
    return int(total or 0)


def _no_lot(code: str, kit: list[KitPart], site: Site) -> Look:
    subject = Subject.objects.filter(code=code).first()
    if subject is None:
        return Look(False, "unknown_code", {"code": code, "near": _near(code, kit, site)})
    if subject.kind == "batch":
        return Look(False, "nothing_made_yet", {"code": code})
    return Look(False, "not_a_lot", {"code": code, "kind": subject.kind})


def _near(text: str, kit: list[KitPart], site: Site) -> list[str]:
    """Codes that may have been meant: lots of the kit's parts that lie here."""
    parts = [row.part.pk for row in kit]
    here = Lot.objects.filter(
        part__in=parts,
        accounts__site=site,
        accounts__condition=Condition.STOCK,
        accounts__step=0,
        accounts__balance__gt=0,
    )
    return list(codes.nearest(text, here.order_by("id").values_list("code", flat=True).distinct()))


def _amount(part: Part, quantity: int) -> str:
    """Pieces bare, material in people's units."""
    return show_quantity(quantity, part.unit)  # type: ignore[arg-type]


def short_of(kit: Iterable[KitPart], got: Mapping[int, int]) -> dict[str, str]:
    """By the part's title: how many are still missing."""
    return {
        row.part.title: _amount(row.part, row.quantity - got.get(row.part.pk, 0))
        for row in kit
        if got.get(row.part.pk, 0) < row.quantity
    }


def beyond(kit: Iterable[KitPart], got: Mapping[int, int]) -> dict[str, str]:
    """By the part's title: how many are too many."""
    return {
        row.part.title: _amount(row.part, got.get(row.part.pk, 0) - row.quantity)
        for row in kit
        if got.get(row.part.pk, 0) > row.quantity
    }
