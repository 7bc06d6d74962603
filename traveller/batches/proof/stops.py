"""What may stop goods, a source each: holds, own checks, components' checks, expiry, and where the pieces lie.

`traveller.batches.usable` is who asks; each source looks at all the lots of a inquiry at once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from django.db.models import Q, QuerySet

from sites.models import Site
from traveller.batches.models import Batch
from traveller.batches.proof.components import unproved_inside
from traveller.batches.proof.gates import Stretch, Unproved, closed_among
from traveller.journal.refusal import Figure, Refused
from traveller.ledger import holds
from traveller.ledger.models import Account, Condition, Lot
from traveller.rules.purposes import Purpose


class Goods(NamedTuple):
    """Pieces of a lot that have been through the steps before `before`; None: through all of them."""

    lot_id: int
    before: int | None = None


@dataclass(frozen=True, slots=True)
class Stop:
    """StopReason a lot may not be used: the code of the sentence, and its figures."""

    lot_id: int
    code: str
    figures: dict[str, Figure]

    def refused(self) -> Refused:
        """The same as an answer to a request."""
        return Refused(self.code, **self.figures)


@dataclass(frozen=True, slots=True)
class Inquiry:
    """What is asked: these goods, for what, on which day at the place, and there (None: wherever they lie)."""

    lots: QuerySet[Lot]
    goods: Mapping[int, frozenset[int | None]] | None
    purpose: Purpose
    on: date
    site_id: int | None

    def stretches(self, lot_id: int) -> frozenset[int | None]:
        """How far this lot's own checks are asked."""
        return WHOLE if self.goods is None else self.goods.get(lot_id, WHOLE)


WHOLE: frozenset[int | None] = frozenset({None})


class StopReason(NamedTuple):
    """The code of a sentence and its figures."""

    code: str
    figures: dict[str, Figure]


# From where pieces are taken for each purpose: of the same lot some may lie elsewhere, or be at another step.
TAKEN_FROM: Mapping[Purpose, Q] = {
    "start": Q(condition__in=(Condition.IN_PROCESS, Condition.REWORK)),
    "send": Q(condition=Condition.STOCK),
    "consume": Q(condition=Condition.STOCK, step=0),
    "pack": Q(condition=Condition.STOCK, step=0),
    "ship": Q(condition=Condition.PACKED),
}


def judged(inquiry: Inquiry) -> dict[Goods, Stop]:
    """The gravest stop of each of the goods asked about; sources in the order of their gravity."""
    why: dict[Goods, StopReason] = {}
    for source in STOP_SOURCES.values():
        for goods, reason in source(inquiry).items():
            why.setdefault(goods, reason)
    titles = _titles({goods.lot_id for goods in why})
    return {
        goods: Stop(goods.lot_id, code, {**titles.get(goods.lot_id, {}), **figures})
        for goods, (code, figures) in why.items()
    }


def _titles(lot_ids: Iterable[int]) -> dict[int, dict[str, Figure]]:
    rows = Lot.objects.filter(pk__in=list(lot_ids)).select_related("part").defer("part__picture")
    return {lot.pk: {"lot": lot.code, "part": lot.part.title} for lot in rows}


def _by_holds(inquiry: Inquiry) -> dict[Goods, StopReason]:
    if holds.ALLOWED[inquiry.purpose]:
        return {}
    found: dict[int, list[holds.OpenHold]] = defaultdict(list)
    for hold in holds.open_among(inquiry.lots):
        found[hold.lot_id].append(hold)
    return {
        Goods(lot_id, before): StopReason(
            "held",
            {
                "purpose": inquiry.purpose,
                "why_code": rows[0].code,
                "why": _plain(rows[0].figures),
                "more": len(rows) - 1,
            },
        )
        for lot_id, rows in found.items()
        for before in inquiry.stretches(lot_id)
    }


def _by_own_checks(inquiry: Inquiry) -> dict[Goods, StopReason]:
    rows = Batch.objects.filter(lot__in=inquiry.lots.values("pk")).values_list("pk", "lot_id", "code").order_by()
    batches = {pk: (lot_id or 0, code) for pk, lot_id, code in rows}
    asked = [Stretch(pk, before) for pk, (lot_id, _) in batches.items() for before in inquiry.stretches(lot_id)]
    found: dict[Goods, StopReason] = {}
    for stretch, blocks in closed_among(asked, inquiry.purpose).items():
        lot_id, code = batches[stretch.batch_id]
        stop = not_proved(lot_id, code, blocks, inquiry.purpose)
        found[Goods(lot_id, stretch.before)] = StopReason(stop.code, stop.figures)
    return found


def not_proved(lot_id: int, batch: str, blocks: list[Unproved], purpose: Purpose) -> Stop:
    figures = {"batch": batch, "purpose": purpose, **_block_figures(blocks[0]), "more": len(blocks) - 1}
    return Stop(lot_id, "not_proved", figures)


def _by_components(inquiry: Inquiry) -> dict[Goods, StopReason]:
    """News may have told that an unproved component was used: what was made of it stays out of cartons."""
    found = unproved_inside(inquiry.lots, inquiry.purpose)
    batches = Batch.objects.select_related("part").defer("part__picture").in_bulk({pk for pk, _ in found.values()})
    return {
        Goods(lot_id, before): StopReason(
            "component_not_proved",
            {
                "batch": batches[batch_id].code,
                "component": batches[batch_id].part.title,
                "purpose": inquiry.purpose,
                **_block_figures(block),
            },
        )
        for lot_id, (batch_id, block) in found.items()
        for before in inquiry.stretches(lot_id)
    }


def _by_expiry(inquiry: Inquiry) -> dict[Goods, StopReason]:
    rows = inquiry.lots.filter(expires_on__lt=inquiry.on).values_list("pk", "expires_on").order_by()
    return {
        Goods(lot_id, before): StopReason("expired", {"expires_on": str(expires_on), "on": str(inquiry.on)})
        for lot_id, expires_on in rows
        for before in inquiry.stretches(lot_id)
    }


def _by_condition(inquiry: Inquiry) -> dict[Goods, StopReason]:
    """Nothing of it lies at the site as the purpose wants it: where its pieces are, by site and condition."""
    if inquiry.site_id is None:
        return {}
    site = Site.objects.get(pk=inquiry.site_id)
    there = Account.objects.filter(TAKEN_FROM[inquiry.purpose], site=site, balance__gt=0)
    lots = inquiry.lots.exclude(pk__in=there.values("lot"))
    lies: dict[int, dict[str, str]] = {pk: {} for pk in lots.values_list("pk", flat=True).order_by()}
    rows = Account.objects.filter(lot__in=lies, balance__gt=0, condition__in=_LIES)
    for lot_id, name, condition, balance in rows.order_by("id").values_list(
        "lot_id", "site__name", "condition", "balance"
    ):
        lies[lot_id][f"{name}, {condition}"] = str(balance)
    return {
        Goods(lot_id, before): StopReason("not_here", {"site": site.name, "lies": places})
        for lot_id, places in lies.items()
        for before in inquiry.stretches(lot_id)
    }


_LIES = (Condition.STOCK, Condition.IN_PROCESS, Condition.REWORK, Condition.ON_THE_ROAD, Condition.PACKED)

# What may stop goods, the gravest first.
STOP_SOURCES: dict[str, Callable[[Inquiry], dict[Goods, StopReason]]] = {
    "holds": _by_holds,
    "own checks": _by_own_checks,
    "components": _by_components,
    "expiry": _by_expiry,
    "condition": _by_condition,
}


def _block_figures(block: Unproved) -> dict[str, Figure]:
    return {
        "step": block.step,
        "verb": block.verb,
        "check": block.check,
        "why_code": block.code,
        "why": _plain(block.figures),
    }


def _plain(figures: Mapping[str, object]) -> dict[str, str]:
    return {key: str(value) for key, value in figures.items()}
