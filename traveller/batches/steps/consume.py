"""What a report used up: scanned lots, or, where nobody scanned, the bill's share of what lies here."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import F

from traveller.batches.models import Step
from traveller.journal.models import Event
from traveller.journal.refusal import Refused
from traveller.ledger import genealogy, holds
from traveller.ledger.models import Account, Condition, Link, Lot
from traveller.ledger.post import Balances, Move, Place, lock_lots
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
    bill = bill_at(step.batch.routing_id, step.number)
    wanted = {component: due(per, after) - due(per, before) for component, per in bill}
    lots = _scanned(step, used)
    found: list[Take] = []
    open_ended: dict[int, list[Lot]] = defaultdict(list)
    for reported in dict.fromkeys(used):
        lot = lots[reported.lot_id]
        if reported.quantity is None:
            open_ended[lot.part_id].append(lot)
            continue
        found.append(Take(lot, reported.quantity, inferred=False))
        # More than the bill asks for of one lot gives nothing back to another.
        wanted[lot.part_id] = max(0, wanted[lot.part_id] - reported.quantity)
    for component, quantity in wanted.items():
        scanned = open_ended.get(component, [])
        if scanned:
            found += _spread(step, scanned, quantity, inferred=False)
        elif quantity > 0 and not any(take.lot.part_id == component for take in found):
            found += _spread(step, _candidates(step, component), quantity, inferred=True)
    return found


def _scanned(step: Step, used: Sequence[Used]) -> dict[int, Lot]:
    """The lots that were scanned, locked; one that cannot have been used here is a wrong scan, not news."""
    if not used:
        return {}
    ids = sorted({reported.lot_id for reported in used})
    lock_lots(ids)
    lots = {lot.pk: lot for lot in Lot.objects.filter(pk__in=ids).select_related("part")}
    bill = {component for component, _ in bill_at(step.batch.routing_id, step.number)}
    for reported in used:
        lot = lots.get(reported.lot_id)
        if lot is None:
            raise Refused("unknown_lot")
        if lot.part_id not in bill:
            raise Refused("not_on_the_bill", lot=lot.code, part=lot.part.title, step=step.number)
        if reported.quantity is not None and reported.quantity < 0:
            raise Refused("not_a_quantity", found=reported.quantity)
    return lots


def _candidates(step: Step, component: int) -> list[Lot]:
    """Lots of the component that lie here, first expired first: any of them may have been used.

    Where none is left, the one that came last must have held more than was counted.
    """
    shelf = Account.objects.filter(lot__part_id=component, site_id=step.site_id, condition=Condition.STOCK, step=0)
    here = Lot.objects.filter(pk__in=shelf.filter(balance__gt=0).values("lot_id"))
    found = list(here.order_by(F("expires_on").asc(nulls_last=True), "pk"))
    if not found:
        last = shelf.select_related("lot").order_by("-id").first()
        found = [last.lot] if last else []
    return found


def _spread(step: Step, lots: Sequence[Lot], quantity: int, *, inferred: bool) -> list[Take]:
    """Share a quantity out over lots in order; the last takes what is beyond the stock.

    A lot that gives nothing is named all the same: some of it may have been used.
    """
    lock_lots(sorted(lot.pk for lot in lots))
    there = dict(
        Account.objects.filter(lot__in=lots, site_id=step.site_id, condition=Condition.STOCK, step=0).values_list(
            "lot_id", "balance"
        )
    )
    found: list[Take] = []
    for place, lot in enumerate(lots):
        last = place == len(lots) - 1
        part = quantity if last or quantity < 0 else min(quantity, there.get(lot.pk, 0))
        quantity -= part
        found.append(Take(lot, part, inferred))
    return found


def consume(event: Event, step: Step, child: Lot, found: Sequence[Take], balances: Balances) -> list[Move]:
    """Moves and genealogy of what was used; a held lot's child is born held."""
    moves: list[Move] = []
    for take in found:
        stock = Place(take.lot.pk, step.site_id, Condition.STOCK, 0)
        # What is given back comes whole out of what was made of it, as its link says.
        beyond = Condition.UNEXPLAINED if take.quantity > 0 else None
        moves += balances.transfer(stock, stock.become(Condition.MADE_INTO), take.quantity, beyond=beyond)
    if found:
        genealogy.link(event, child, [genealogy.Use(t.lot, t.quantity, t.inferred) for t in found])
        holds.inherit(event, child, [take.lot.pk for take in found])
    return moves


def give_back(step: Step, wrong: Event, before: int, after: int) -> list[Take]:
    """A correction downward of what was inferred: the same lots get back what the bill no longer asks for."""
    bill = dict(bill_at(step.batch.routing_id, step.number))
    back = {component: due(per, before) - due(per, after) for component, per in bill.items()}
    found: list[Take] = []
    for link in (
        Link.objects.filter(event=wrong, inferred=True, quantity__gt=0).select_related("parent").order_by("-id")
    ):
        part = min(back.get(link.parent.part_id, 0), link.quantity)
        if part:
            back[link.parent.part_id] -= part
            found.append(Take(link.parent, -part, inferred=True))
    return found
