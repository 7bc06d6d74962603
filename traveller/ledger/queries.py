"""Reads that pages need: what lies where, by lot. Each costs a constant number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal, NamedTuple, get_args

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Sum

from traveller.ledger.models import Account, Condition, Hold
from traveller.products.models import Part

_LYING = (Condition.STOCK, Condition.IN_PROCESS, Condition.REWORK, Condition.ON_THE_ROAD, Condition.PACKED)
_State = Literal["stock", "held", "expired", "process", "road"]
_STATES: tuple[_State, ...] = get_args(_State)


@dataclass(frozen=True, slots=True)
class Lying:
    """How much lies about: lots, parts and sites, and how many of the lots may not be used."""

    lots: int
    parts: int
    sites: int
    held: int
    expired: int


def lying(*, find: str = "", site_id: int | None = None, state: str = "", on: date) -> QuerySet[Account]:
    """Every account that holds pieces somewhere, narrowed as the stock page asks; `find` is text or a lot's code."""
    rows = Account.objects.filter(condition__in=_LYING, balance__gt=0)
    if site_id is not None:
        rows = rows.filter(site_id=site_id)
    for word in find.split():
        rows = rows.filter(_matches(word))
    if state in _STATES:
        rows = _in_state(rows, state, on)
    return rows.select_related("lot__part", "lot__batch", "site").defer("lot__part__picture")


def _matches(word: str) -> Q:
    plain = word.replace("-", "").upper()
    part = Q(lot__part__number__icontains=word) | Q(lot__part__name__icontains=word)
    part |= Q(lot__part__variant__icontains=word)
    return part | Q(lot__code__startswith=plain) | Q(lot__outside_number__icontains=word)


def _in_state(rows: QuerySet[Account], state: str, on: date) -> QuerySet[Account]:
    if state == "held":
        return rows.filter(_held())
    if state == "expired":
        return rows.filter(lot__expires_on__lt=on)
    if state == "process":
        return rows.filter(Q(condition__in=[Condition.IN_PROCESS, Condition.REWORK]) | Q(step__gt=0)).exclude(
            condition=Condition.ON_THE_ROAD
        )
    if state == "road":
        return rows.filter(condition=Condition.ON_THE_ROAD)
    return rows.filter(condition=Condition.STOCK, step=0)


def _held() -> Exists:
    return Exists(Hold.objects.filter(lot=OuterRef("lot"), closed_at=None))


def lying_in_all(on: date) -> Lying:
    """The figures of the opening sentence; one query for each kind of figure."""
    rows = Account.objects.filter(condition__in=_LYING, balance__gt=0)
    all_of_it = rows.aggregate(
        lots=Count("lot", distinct=True), parts=Count("lot__part", distinct=True), sites=Count("site", distinct=True)
    )
    held = rows.filter(_held()).aggregate(n=Count("lot", distinct=True))["n"]
    expired = rows.filter(lot__expires_on__lt=on).aggregate(n=Count("lot", distinct=True))["n"]
    return Lying(all_of_it["lots"], all_of_it["parts"], all_of_it["sites"], held, expired)


def parts_lying(accounts: QuerySet[Account]) -> QuerySet[Part]:
    """The parts of these accounts, by name."""
    wanted = accounts.order_by().values("lot__part_id")
    return Part.objects.filter(pk__in=wanted).defer("picture").order_by("name", "variant", "number")


class OffTheShelf(NamedTuple):
    """Pieces of a part that lie on no shelf: between two steps, on the road, in cartons that have not left."""

    process: int = 0
    road: int = 0
    packed: int = 0


def under_way(part_ids: Iterable[int]) -> dict[int, OffTheShelf]:
    """By part, anywhere; one query."""
    return _under_way(Account.objects.filter(lot__part__in=list(part_ids)))


def sums_at(site_id: int, part_ids: Iterable[int]) -> dict[int, OffTheShelf]:
    """By part, at a site or on the road from it; one query."""
    return _under_way(Account.objects.filter(lot__part__in=list(part_ids), site_id=site_id))


def _under_way(accounts: QuerySet[Account]) -> dict[int, OffTheShelf]:
    rows = (
        accounts.filter(condition__in=_LYING, balance__gt=0).order_by().values_list("lot__part_id", "condition", "step")
    )
    found: dict[int, OffTheShelf] = defaultdict(OffTheShelf)
    for part_id, condition, step, quantity in rows.annotate(Sum("balance")):
        sums = found[part_id]
        if condition == Condition.ON_THE_ROAD:
            found[part_id] = sums._replace(road=sums.road + quantity)
        elif condition == Condition.PACKED:
            found[part_id] = sums._replace(packed=sums.packed + quantity)
        elif condition in (Condition.IN_PROCESS, Condition.REWORK) or (condition == Condition.STOCK and step):
            found[part_id] = sums._replace(process=sums.process + quantity)
    return found


def lots_by_site() -> dict[int, int]:
    """How many lots lie at each site; one query."""
    rows = Account.objects.filter(condition__in=_LYING, balance__gt=0).order_by().values_list("site_id")
    return dict(rows.annotate(Count("lot", distinct=True)))
