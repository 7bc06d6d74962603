"""What a trace cannot tell: pieces of unknown material, and the lots that may also contain a lot. Constant queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from traveller.batches.reads.queries import LYING
from traveller.batches.reads.unknown_origin import UnknownOrigin, may_contain, unknown_among
from traveller.ledger.models import Account, Condition, Lot
from traveller.products.models import Part
from traveller.shipping.models import CartonLot
from traveller.web.founder.desk.listing import amount


@dataclass(frozen=True, slots=True)
class UnknownLine:
    """Pieces of a lot of which the material is unknown: how many, and of which components."""

    lot: Lot
    pieces: str
    components: str


@dataclass(frozen=True, slots=True)
class LotNow:
    """A lot, with what of it still lies somewhere and what has gone to customers."""

    lot: Lot
    lying: str
    sold: str


@dataclass(frozen=True, slots=True)
class MayBeIn:
    """What may also contain a lot: pieces of unknown material, all lots that they are in, and the cartons of these."""

    lines: list[UnknownLine]
    lots: list[LotNow]
    cartons: list[CartonLot]


def unknown_material(lot_ids: Collection[int]) -> list[UnknownLine]:
    """A line for each of these lots that is of unknown material."""
    return _lines(unknown_among(lot_ids))


def may_be_in(lot: Lot) -> MayBeIn:
    """Lots that nothing says a lot is in, and nothing says that it is not."""
    found = may_contain(lot)
    return MayBeIn(_lines(found.origins), _now(found.lot_ids), _cartons(found.lot_ids))


def _lines(origins: Sequence[UnknownOrigin]) -> list[UnknownLine]:
    lots = _lots({row.lot_id for row in origins})
    parts = Part.objects.defer("picture").in_bulk({row.component_id for row in origins})
    by_lot: dict[int, list[UnknownOrigin]] = defaultdict(list)
    for row in origins:
        by_lot[row.lot_id].append(row)
    return [
        UnknownLine(
            lots[pk],
            amount(max(row.pieces for row in rows), lots[pk].part.unit),
            _(", ").join(parts[row.component_id].title for row in rows),
        )
        for pk, rows in sorted(by_lot.items())
    ]


def _now(lot_ids: Collection[int]) -> list[LotNow]:
    sums: dict[tuple[int, bool], int] = defaultdict(int)
    there = Account.objects.filter(lot__in=lot_ids, condition__in=[*LYING, Condition.SOLD_TO])
    for lot, condition, balance in there.values_list("lot_id", "condition", "balance"):
        sums[lot, condition == Condition.SOLD_TO] += balance
    return [
        LotNow(lot, amount(sums[pk, False], lot.part.unit), amount(sums[pk, True], lot.part.unit))
        for pk, lot in sorted(_lots(lot_ids).items())
    ]


def _cartons(lot_ids: Collection[int]) -> list[CartonLot]:
    rows = CartonLot.objects.filter(lot__in=lot_ids).select_related(
        "carton__line__order", "carton__shipment", "lot__part"
    )
    return list(rows.defer("lot__part__picture").order_by("carton_id"))


def _lots(lot_ids: Collection[int]) -> dict[int, Lot]:
    return Lot.objects.select_related("part").defer("part__picture").in_bulk(list(lot_ids))
