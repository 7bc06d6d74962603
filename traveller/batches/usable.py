"""May these goods be used? The only judge of permission to start, send, consume, pack and ship.

Every list, picture, plan, scan and label asks here: over holds, the lot's own checks, its components' checks, its
expiry, and where its pieces lie. Set-based: as many queries for thousands of lots as for one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import QuerySet, Sum

from traveller.batches.models import Batch, Step
from traveller.batches.proof.gates import Stretch, closed_among
from traveller.batches.proof.stops import TAKEN_FROM, Goods, Inquiry, Stop, judged, not_proved
from traveller.batches.proof.suspects import suspects
from traveller.ledger.models import Account, Lot
from traveller.products.frozen import bill_at
from traveller.products.queries import present_bill
from traveller.rules.purposes import PURPOSE_ORDER, Purpose


@dataclass(frozen=True, slots=True)
class Pieces:
    """So many pieces that have these fields in common, and how many of them are stopped by what."""

    key: tuple[Any, ...]
    total: int
    stopped: Mapping[str, int]

    @property
    def free(self) -> int:
        """Pieces that nothing stops."""
        return self.total - sum(self.stopped.values())


def usable(lots: Iterable[int], purpose: Purpose, on: date, *, site_id: int | None = None) -> dict[int, Stop | None]:
    """For each lot (by id) what stops it from `purpose` on that day, the gravest first; None: nothing does.

    `on`: the day at the place where it would happen. `site_id`: something of it must lie there, as the purpose wants
    it. Costs the same number of queries however many lots are asked about.
    """
    ids = list(lots)
    found = judged(Inquiry(Lot.objects.filter(pk__in=ids), None, purpose, on, site_id)) if ids else {}
    return {lot_id: found.get(Goods(lot_id)) for lot_id in ids}


def stops(accounts: QuerySet[Account], purpose: Purpose | Mapping[int, Purpose], on: date) -> dict[int, Stop]:
    """As `usable`, for the lots of as many accounts as a query finds: only those that something stops are named.

    `purpose`: one for all, or by part. The database looks for signs first, so that thousands of lots that nothing
    stops cost little.
    """
    by_part = None if isinstance(purpose, str) else purpose
    purposes: set[Purpose] = {purpose} if isinstance(purpose, str) else set(purpose.values())
    if not purposes:
        return {}
    # What shows no sign for the last purpose shows none for those before it.
    found = suspects(accounts.filter(balance__gt=0), max(purposes, key=PURPOSE_ORDER.index), on)
    stopped: dict[int, Stop] = {}
    for each in sorted(purposes) if found else ():
        lots = Lot.objects.filter(pk__in=found)
        if by_part is not None:
            lots = lots.filter(part__in=[part_id for part_id, wanted in by_part.items() if wanted == each])
        stopped |= {goods.lot_id: stop for goods, stop in judged(Inquiry(lots, None, each, on, None)).items()}
    return stopped


def usable_goods(goods: Iterable[Goods], purpose: Purpose, on: date) -> dict[Goods, Stop | None]:
    """As `usable`, for pieces that are not through all steps: asked are the checks of those they have been through."""
    asked = list(goods)
    far: dict[int, set[int | None]] = defaultdict(set)
    for lot_id, before in asked:
        far[lot_id].add(before)
    inquiry = Inquiry(
        Lot.objects.filter(pk__in=far), {pk: frozenset(ends) for pk, ends in far.items()}, purpose, on, None
    )
    found = judged(inquiry)
    return {each: found.get(each) for each in asked}


def refuse_unusable(goods: Iterable[Goods], purpose: Purpose, on: date) -> None:
    """A request (not news) to use goods: refused where anything stops them. Raises Refused."""
    for stop in usable_goods(goods, purpose, on).values():
        if stop is not None:
            raise stop.refused()


def after_step(lot_id: int, step: int) -> Goods:
    """Pieces on a shelf that have been through a step; 0: through all of them."""
    return Goods(lot_id, step + 1 if step else None)


def usable_to_start(steps: Iterable[Step], on: date) -> dict[int, Stop | None]:
    """By step's id: what keeps it from being started.

    The checks of the steps before it that block the next step; and its components, where all that lie at its site of
    one of them are stopped. Where some lot of it may be used, that one may be: which it was is news.
    """
    asked = list(steps)
    batches = Batch.objects.in_bulk({step.batch_id for step in asked})
    born = {step.pk: Goods(batch.lot_id, step.number) for step in asked if (batch := batches[step.batch_id]).lot_id}
    own = usable_goods(set(born.values()), "start", on)
    # Of a batch of which nothing was made yet there is no lot to ask about.
    unborn = [step for step in asked if step.pk not in born]
    blocks = closed_among([Stretch(step.batch_id, step.number) for step in unborn], "start")
    components = _components(asked, on)
    found: dict[int, Stop | None] = {}
    for step in asked:
        why = blocks.get(Stretch(step.batch_id, step.number), [])
        stop = not_proved(0, batches[step.batch_id].code, why, "start") if why else None
        stop = own[born[step.pk]] if step.pk in born else stop
        found[step.pk] = stop or components.get(step.pk)
    return found


def pieces_by(accounts: QuerySet[Account], stopped: Mapping[int, Stop], by: tuple[str, ...]) -> list[Pieces]:
    """Pieces summed by the database, by these fields: all that lies there, and how much of it is stopped, by code.

    `stopped`: what `stops` says of these accounts, or of more; only those lots are looked at one by one.
    """
    lying = accounts.filter(balance__gt=0).order_by()
    codes: dict[tuple[Any, ...], dict[str, int]] = defaultdict(lambda: defaultdict(int))
    if stopped:
        for lot_id, *key, balance in lying.filter(lot__in=stopped).values_list("lot_id", *by, "balance"):
            codes[tuple(key)][stopped[lot_id].code] += balance
    sums = lying.values_list(*by).annotate(Sum("balance"))
    return [Pieces(tuple(key), total, dict(codes.get(tuple(key), {}))) for *key, total in sums]


# What stops pieces that are still worked at, too: the checks of what they go through are still to come.
STOPS_WORK = ("held", "expired")


def purposes_at_rest(part_ids: Iterable[int]) -> dict[int, Purpose]:
    """What finished pieces of these parts wait for: to be used at a step of another part, or else to be packed."""
    ids = list(part_ids)
    steps: dict[int, set[int]] = defaultdict(set)
    for component_id, step in present_bill().filter(component__in=ids).order_by().values_list("component_id", "step"):
        steps[component_id].add(step)
    return {part_id: "consume" if steps[part_id] and 0 not in steps[part_id] else "pack" for part_id in ids}


def _components(steps: Iterable[Step], on: date) -> dict[int, Stop]:
    """By step's id: the stop of a component of which nothing that lies at the step's site may be used."""
    bills = {step.pk: [part for part, _ in bill_at(step.batch.routing_id, step.number)] for step in steps}
    wanted = {part for parts in bills.values() for part in parts}
    here = _lying(wanted) if wanted else {}
    judged_lots = usable({lot_id for lots in here.values() for lot_id in lots}, "consume", on) if here else {}
    found: dict[int, Stop] = {}
    for step in steps:
        for part_id in bills[step.pk]:
            reasons = [judged_lots[lot_id] for lot_id in here.get((step.site_id, part_id), ())]
            if reasons and all(reasons) and reasons[0]:
                found.setdefault(step.pk, reasons[0])
    return found


def _lying(part_ids: Iterable[int]) -> dict[tuple[int, int], list[int]]:
    """By site and part: the lots of these parts that lie there to be used."""
    rows = Account.objects.filter(TAKEN_FROM["consume"], lot__part__in=list(part_ids), balance__gt=0)
    here: dict[tuple[int, int], list[int]] = defaultdict(list)
    for site_id, part_id, lot_id in rows.order_by("lot").values_list("site_id", "lot__part_id", "lot_id"):
        here[site_id, part_id].append(lot_id)
    return here
