"""Pieces whose material nobody recorded: what they may have been made of, and so what a lot may also be in.

A batch taken over, opening stock of a part that is made, goods that came without papers, a count where nothing of a
component was known to lie: its bill says what it was made of, and nothing says of which lots. A constant number of
queries, however many lots there are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Exists, F, Max, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from traveller.batches.models import Batch, Step
from traveller.journal.models import Event
from traveller.ledger import genealogy
from traveller.ledger.models import Account, Condition, Link, Lot, Posting
from traveller.products.models import BillLine, PartKind, Routing

# Lots that no batch of ours made, although their part is made.
_CAME = ("opening", "found", "provisional")
# How a lot came to be whose record began with it: it cannot be in what was finished before.
_RECORDED = ("batch", "purchase")
_BORN = (Condition.MADE_FROM, Condition.BOUGHT_FROM, Condition.UNEXPLAINED)
_LOST = (Condition.SCRAP, Condition.SAMPLES)


@dataclass(frozen=True, slots=True)
class UnknownOrigin:
    """So many good pieces of a lot were made of a component, and nothing says of which of its lots.

    `made_by`: when the last of them was counted or taken over.
    """

    lot_id: int
    component_id: int
    pieces: int
    made_by: datetime | None


@dataclass(frozen=True, slots=True)
class MayContain:
    """Pieces of unknown material that may contain a lot, and every lot that these went into."""

    origins: tuple[UnknownOrigin, ...]
    lot_ids: frozenset[int]


def unknown_among(lot_ids: Collection[int]) -> list[UnknownOrigin]:
    """What of these lots is of unknown material, by lot and component."""
    return _unknown(Q(pk__in=list(lot_ids)), None) if lot_ids else []


def may_contain(lot: Lot) -> MayContain:
    """Pieces of unknown material that a lot may be in, apart from those that it is known, or inferred, to be in.

    Left out is only what cannot be: what was finished before the record of the lot began with its delivery or making.
    """
    known = {lot.pk, *genealogy.descendants(lot.pk), *genealogy.ancestors(lot.pk)}
    origins = [
        row
        for row in _unknown(Q(), _made_with(lot.part_id))
        if row.lot_id not in known and not _before(row.made_by, lot)
    ]
    starts = {row.lot_id for row in origins}
    return MayContain(tuple(origins), frozenset(starts | genealogy.descendants_of(starts)) - known)


def _before(made_by: datetime | None, lot: Lot) -> bool:
    began_with_it = lot.origin in _RECORDED and lot.born_event.kind != "adopted"
    return began_with_it and made_by is not None and made_by < lot.born_at


def _made_with(part_id: int) -> set[int]:
    """A part, and every part that is made with it, at first or at last hand."""
    used_in: dict[int, set[int]] = defaultdict(set)
    for component, made in BillLine.objects.order_by().values_list("component_id", "routing__part_id").distinct():
        used_in[component].add(made)
    found, ahead = {part_id}, [part_id]
    while ahead:
        for made in used_in[ahead.pop()] - found:
            found.add(made)
            ahead.append(made)
    return found


def _unknown(lots: Q, components: set[int] | None) -> list[UnknownOrigin]:
    """Lots of the query with a component (one of these) on their bill of which no lot is linked to them."""
    found = [*_of_batches(lots, components), *_that_came(lots, components)]
    good = _good({lot_id for lot_id, _component, _pieces, _at in found})
    return [
        UnknownOrigin(lot_id, component, min(pieces, good[lot_id]), at)
        for lot_id, component, pieces, at in found
        if min(pieces, good[lot_id]) > 0
    ]


def _of_batches(lots: Q, components: set[int] | None) -> Iterable[tuple[int, int, int, datetime | None]]:
    """Pieces taken over beyond the step that uses the component, and those counted there where no lot of it is linked;
    one query. What was split off is made of what its parent is made of."""
    component, at_step = OuterRef("routing__bill__component"), OuterRef("routing__bill__step")
    laid_down = Posting.objects.filter(
        event=OuterRef("released_event"), account__lot=OuterRef("lot"), account__condition=Condition.MADE_FROM
    )
    taken_over = laid_down.filter(account__step__gte=at_step).order_by().values("account__lot")
    counted = Step.objects.filter(batch=OuterRef("pk"), number=at_step)
    rows = (
        Batch.objects.filter(lot__in=Lot.objects.filter(lots).values("pk"), lot__origin="batch")
        .filter(routing__bill__step__gt=0, **_among(components, "routing__bill__component__in"))
        .annotate(
            known=Exists(_links().filter(child=OuterRef("lot"), parent__part=component)),
            over=Coalesce(Subquery(taken_over.annotate(n=-Sum("quantity")).values("n")), 0),
            counted=Coalesce(
                Subquery(counted.annotate(n=F("good") + F("scrap") + F("rework") + F("samples")).values("n")), 0
            ),
            at=Subquery(_births(OuterRef("lot"))),
        )
        .filter(Q(over__gt=0) | Q(counted__gt=0, known=False))
        .values_list("lot_id", "routing__bill__component_id", "over", "counted", "known", "at")
        .order_by("lot_id", "routing__bill__component_id")
    )
    return [(lot, part, over + (0 if known else counted), at) for lot, part, over, counted, known, at in rows]


def _that_came(lots: Q, components: set[int] | None) -> Iterable[tuple[int, int, int, datetime | None]]:
    """All pieces of lots that were made elsewhere or before, by the present bill of their part; two queries."""
    present = Routing.objects.filter(part=OuterRef("part")).order_by("-revision").values("pk")[:1]
    came = Lot.objects.filter(lots, origin__in=_CAME, part__kind=PartKind.MADE)
    rows = list(came.order_by("pk").annotate(present=Subquery(present)).values_list("pk", "present", "born_at"))
    bills: dict[int, list[int]] = defaultdict(list)
    lines = BillLine.objects.filter(step__gt=0, routing__in={routing for _pk, routing, _at in rows if routing})
    for routing, part in lines.filter(**_among(components, "component__in")).values_list("routing", "component"):
        bills[routing].append(part)
    everything = 2**62
    return [(pk, part, everything, at) for pk, routing, at in rows for part in bills[routing or 0]]


def _among(components: set[int] | None, lookup: str) -> dict[str, set[int]]:
    return {} if components is None else {lookup: components}


def _links() -> QuerySet[Link]:
    """Links that stand: neither struck nor striking."""
    struck = Event.objects.filter(corrects=OuterRef("event"), kind="undone")
    return Link.objects.exclude(event__kind="undone").filter(~Exists(struck))


def _births(lot: OuterRef) -> QuerySet[Posting, Any]:
    born = Posting.objects.filter(account__lot=lot, account__condition=Condition.MADE_FROM).order_by()
    return born.values("account__lot").annotate(n=Max("event__happened_at")).values("n")


def _good(lot_ids: set[int]) -> dict[int, int]:
    """By lot, pieces that came to be and were neither scrapped nor used up by a test; one query."""
    rows = Account.objects.filter(lot__in=lot_ids, condition__in=[*_BORN, *_LOST]).order_by().values_list("lot")
    found = dict.fromkeys(lot_ids, 0)
    found.update((lot, max(0, -balance)) for lot, balance in rows.annotate(Sum("balance")))
    return found
