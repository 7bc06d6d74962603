"""How long the pieces of a batch stayed at each site: visits, from the postings. Three queries for any number of them.

A visit begins when pieces arrive, or with the first work there, and is over when the last of its good pieces has left:
on the road, used, or into stock where nothing more is done with them. What was split off came when its parent came.
What was taken back did not happen.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial

from django.db.models import Exists, F, Max, Min, OuterRef, Q, QuerySet, Sum

from traveller.batches.models import Batch, Step, StepState
from traveller.ledger.models import Account, Condition, Posting

# What is usual is what was so of late: in so many batches back, whichever shops they went through.
BATCHES_MOST = 200
_PROCESS = (Condition.IN_PROCESS, Condition.REWORK)
_STRIKES = ("undone", "dispatch taken back")
_LEFT = (Condition.ON_THE_ROAD, Condition.PACKED, Condition.SOLD_TO, Condition.MADE_INTO)


@dataclass(frozen=True, slots=True)
class Visit:
    """`left`: None while pieces of it are there. `over`: good pieces left it; else its length is "at least".

    `lot_id` is None while its first work has begun and no piece was counted.
    """

    batch_id: int
    lot_id: int | None
    site_id: int
    arrived: datetime
    left: datetime | None = None
    over: bool = False


@dataclass(frozen=True, slots=True)
class _Move:
    """What one event did to a lot at a site: pieces at work there, more or fewer, and good ones that left."""

    event_id: int
    at: datetime
    here: int
    gone: int


@dataclass(frozen=True, slots=True)
class _Work:
    """The steps of a batch at a site: when the first began, when the last was done if all are."""

    began: datetime
    done: datetime | None


def lies_at_work(path: str = "") -> Q:
    """Accounts whose pieces are on a visit where they lie, not in stock for good; `path` leads to the account."""
    settled = Q(**{f"{path}step": 0, f"{path}site": F(f"{path}lot__batch__destination")})
    shelf = Q(**{f"{path}condition": Condition.STOCK, f"{path}lot__batch__isnull": False}) & ~settled
    return Q(**{f"{path}condition__in": _PROCESS}) | shelf


def of_late() -> QuerySet[Batch]:
    """The latest batches, and those that are older and lie at work somewhere; one query to be part of others."""
    latest = list(Batch.objects.order_by("-pk").values_list("pk", flat=True)[:BATCHES_MOST])
    lying = Account.objects.filter(lies_at_work(), balance__gt=0).values("lot__batch")
    return Batch.objects.filter(Q(pk__gte=min(latest, default=0)) | Q(pk__in=lying))


def visits_of(batches: QuerySet[Batch]) -> list[Visit]:
    """Every visit of these batches, in the order of the batches, at each site in the order of arrival."""
    rows = list(
        batches.order_by("pk").values_list(
            "pk", "lot_id", "parent__lot_id", "lot__born_event_id", "released_at", "released_event__kind"
        )
    )
    parted = {born for _pk, _lot, parent, born, *_ in rows if parent}
    moves, works = _moves([lot for _pk, lot, *_ in rows if lot], parted), _works([pk for pk, *_ in rows])
    places: dict[int, set[int]] = defaultdict(set)
    for pk, site in [*moves, *works]:
        places[pk].add(site)
    known: dict[tuple[int, int], list[Visit]] = {}
    found: list[Visit] = []
    for pk, lot_id, parent, _born, released, how in rows:
        for site in sorted(places[pk]):
            visit = partial(Visit, pk, lot_id, site)
            here = _told(visit, moves.get((pk, site), ()))
            here = _from_first_work(here, visit, works.get((pk, site)))
            here = _since_parent(here, known.get((parent or 0, site), ()))
            if how == "adopted":
                # How long it had been there before this record began, nobody knows.
                here = [replace(row, over=row.over and row.arrived > released) for row in here]
            known[lot_id or 0, site] = here
            found += here
    return found


def _moves(lot_ids: Sequence[int], parted: set[int]) -> dict[tuple[int, int], list[_Move]]:
    """By batch and site, event after event as it happened; one query. What was parted did not leave.

    Asked by the lots' keys: as part of a question it would be the postings of all time that are walked through.
    """
    strikes = Posting.objects.filter(event__corrects=OuterRef("event"), event__kind__in=_STRIKES)
    struck = strikes.filter(account__lot=OuterRef("account__lot"))
    rows = (
        Posting.objects.filter(account__lot__in=lot_ids)
        .exclude(event__kind__in=_STRIKES)
        .filter(~Exists(struck))
        .order_by()
        .values_list("account__lot__batch", "account__site", "event", "event__happened_at")
        .annotate(
            here=Sum("quantity", filter=lies_at_work("account__"), default=0),
            gone=Sum("quantity", filter=_leaving(), default=0),
        )
        .order_by("event__happened_at", "event")
    )
    found: dict[tuple[int, int], list[_Move]] = defaultdict(list)
    for batch, site, event, at, here, gone in rows:
        if here:
            found[batch, site].append(_Move(event, at, here, 0 if event in parted else max(0, gone)))
    return found


def _leaving() -> Q:
    settled = Q(account__condition=Condition.STOCK) & ~lies_at_work("account__")
    return Q(account__condition__in=_LEFT) | settled


def _works(batch_ids: Sequence[int]) -> dict[tuple[int, int], _Work]:
    """By batch and site, where work has begun; one query."""
    steps = Step.objects.filter(batch__in=batch_ids).order_by().values_list("batch", "site")
    rows = steps.annotate(began=Min("started_at"), last=Max("done_at"), left=Min("pk", filter=~Q(state=StepState.DONE)))
    return {(batch, site): _Work(began, None if left else last) for batch, site, began, last, left in rows if began}


def _told(visit: Callable[[datetime], Visit], moves: Sequence[_Move]) -> list[Visit]:
    """Visits as the pieces at work come from nothing and go to nothing."""
    found: list[Visit] = []
    pieces, left = 0, None
    for move in moves:
        if pieces <= 0 < pieces + move.here:
            found.append(visit(move.at))
            left = None
        if found and move.gone:
            left = move.at
        if pieces > 0 >= pieces + move.here:
            found[-1] = replace(found[-1], left=left or move.at, over=left is not None)
        pieces += move.here
    return found


def _from_first_work(here: list[Visit], visit: Callable[[datetime], Visit], work: _Work | None) -> list[Visit]:
    """Work that began before there were pieces; work whose pieces go into stock as they are counted is a visit too."""
    if work is None:
        return here
    if not here:
        return [replace(visit(work.began), left=work.done, over=work.done is not None)]
    return [replace(here[0], arrived=min(here[0].arrived, work.began)), *here[1:]]


def _since_parent(here: list[Visit], parents: Sequence[Visit]) -> list[Visit]:
    """Pieces split off during a visit have been there since it began."""
    for parent in parents:
        if here and parent.arrived <= here[0].arrived and (parent.left is None or here[0].arrived <= parent.left):
            return [replace(here[0], arrived=parent.arrived), *here[1:]]
    return here
