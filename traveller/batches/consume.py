"""What a report used up: scanned lots, or, where nobody scanned, the bill's share of what lies here."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import F

from traveller.batches.models import Step
from traveller.journal.models import Event
from traveller.ledger import genealogy, holds
from traveller.ledger.models import Account, Condition, Link, Lot
from traveller.ledger.post import Balances, Move, Place
from traveller.products.frozen import bill_at


@dataclass(frozen=True, slots=True)
class Used:
    """A lot that the operator scanned; `quantity` in its base unit, None: what the bill says."""

    lot_id: int
    quantity: int | None = None


@dataclass(frozen=True, slots=True)
class Take:
    lot: Lot
    quantity: int
    inferred: bool


def due(per_thousand: int, pieces: int) -> int:
    """The bill's quantity for so many pieces, rounded once, upward, at the total."""
    return -(-per_thousand * pieces // 1000)


def takes(step: Step, before: int, after: int, used: Sequence[Used]) -> list[Take]:
    """Which lots give how much, as the step's counted pieces go from `before` to `after`."""
    bill = bill_at(step.batch.routing_id, step.batch.part_id, step.number)
    wanted = {component: due(per, after) - due(per, before) for component, per in bill}
    lots = {lot.pk: lot for lot in Lot.objects.filter(pk__in=[u.lot_id for u in used])} if used else {}
    found: list[Take] = []
    open_ended: dict[int, list[Lot]] = defaultdict(list)
    for told in used:
        lot = lots[told.lot_id]
        if told.quantity is None:
            open_ended[lot.part_id].append(lot)
            continue
        found.append(Take(lot, told.quantity, inferred=False))
        wanted[lot.part_id] = wanted.get(lot.part_id, 0) - told.quantity
    for component, quantity in wanted.items():
        scanned = open_ended.get(component, [])
        if scanned:
            found += _spread(step, scanned, quantity, inferred=False)
        elif quantity > 0 and not any(take.lot.part_id == component for take in found):
            found += _spread(step, _candidates(step, component), quantity, inferred=True)
    return found


def _candidates(step: Step, component: int) -> list[Lot]:
    """Lots of the component that lie here, first expired first: any of them may have been used."""
    here = Lot.objects.filter(
        part_id=component,
        accounts__site_id=step.site_id,
        accounts__condition=Condition.STOCK,
        accounts__step=0,
        accounts__balance__gt=0,
    )
    return list(here.order_by(F("expires_on").asc(nulls_last=True), "pk").distinct())


def _spread(step: Step, lots: Sequence[Lot], quantity: int, *, inferred: bool) -> list[Take]:
    """Share a quantity out over lots in order; the last takes what is beyond the stock."""
    there = dict(
        Account.objects.filter(
            lot__in=lots, site_id=step.site_id, condition=Condition.STOCK, step=0
        ).values_list("lot_id", "balance")
    )
    found: list[Take] = []
    for place, lot in enumerate(lots):
        last = place == len(lots) - 1
        part = quantity if last or quantity < 0 else min(quantity, there.get(lot.pk, 0))
        quantity -= part
        if part or inferred:
            found.append(Take(lot, part, inferred))
    return found


def consume(event: Event, step: Step, child: Lot, found: Sequence[Take], balances: Balances) -> list[Move]:
    """Moves and genealogy of what was used; a held lot's child is born held."""
    moves: list[Move] = []
    for take in found:
        stock = Place(take.lot.pk, step.site_id, Condition.STOCK, 0)
        moves += balances.transfer(
            stock, stock.become(Condition.MADE_INTO), take.quantity, beyond=Condition.UNEXPLAINED
        )
    if found:
        genealogy.link(event, child, [genealogy.Use(t.lot, t.quantity, t.inferred) for t in found])
        holds.inherit(event, child, [take.lot.pk for take in found])
    return moves


def give_back(step: Step, wrong: Event, before: int, after: int) -> list[Take]:
    """A correction downward of what was inferred: the same lots get back what the bill no longer asks for."""
    bill = dict(bill_at(step.batch.routing_id, step.batch.part_id, step.number))
    back = {component: due(per, before) - due(per, after) for component, per in bill.items()}
    found: list[Take] = []
    for link in (
        Link.objects.filter(event=wrong, inferred=True, quantity__gt=0)
        .select_related("parent")
        .order_by("-id")
    ):
        part = min(back.get(link.parent.part_id, 0), link.quantity)
        if part:
            back[link.parent.part_id] -= part
            found.append(Take(link.parent, -part, inferred=True))
    return found
