"""What there is of made parts for order lines to count on: batches with all that was split off them, and other lots."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal, NamedTuple

from sites.models import Site
from traveller.batches.usable import purposes_at_rest, stops
from traveller.ledger.models import Account, Condition
from traveller.orders import reserved
from traveller.orders.calendars import own_bench
from traveller.orders.families import BatchFamily, families_of, still_to_make, through_reservations, went_on
from traveller.orders.models import BatchShare
from traveller.rules.coverage import Supply

# Where pieces are, the most advanced first: finished at the own bench and free; finished there and stopped; finished
# elsewhere; finished on the road; still worked at; not made yet by a batch that may still make them.
State = Literal["ready", "stopped", "away", "road", "work", "unborn"]
_ADVANCE: tuple[State, ...] = ("ready", "stopped", "away", "road", "work", "unborn")
_ALIVE = (Condition.IN_PROCESS, Condition.REWORK, Condition.STOCK, Condition.ON_THE_ROAD)


class Stage(NamedTuple):
    """How far pieces are. `ahead`: they are still to go through the steps from this number on; 0 when finished."""

    state: State
    ahead: int
    routing_id: int


@dataclass(frozen=True, slots=True)
class SupplyBatch:
    """The batch behind a supply: how many of it were promised to lines in all, and what they have not had yet."""

    batch_id: int
    code: str
    shared: int
    left: Mapping[int, int]


def supplies_of(
    part_ids: set[int], on: date, line_ids: Sequence[int]
) -> tuple[dict[int, list[Supply[Stage]]], dict[int, SupplyBatch]]:
    """By part: families of batches, then lots that no batch of ours made. Keys of families are positive."""
    pieces, part_of = _pieces(part_ids, on)
    promised_of = set(BatchShare.objects.filter(line__in=line_ids).values_list("batch_id", flat=True))
    families = families_of(part_of.keys(), part_ids, batch_ids=promised_of)
    kept = _kept(line_ids)
    promises = _Promises(families, line_ids)
    supplies: dict[int, list[Supply[Stage]]] = defaultdict(list)
    sources: dict[int, SupplyBatch] = {}
    for family in families:
        root = family.root
        alive = [row for lot_id in family.lots for row in pieces.get(lot_id, ())]
        if unborn := promises.unborn(family, sum(quantity for _stage, quantity in alive)):
            alive.append((Stage("unborn", 0, root.routing_id), unborn))
        left = promises.left(family)
        promised = dict(left)
        for lot_id in family.lots:
            for line_id, quantity in kept[lot_id].items():
                promised[line_id] = promised.get(line_id, 0) + quantity
        supplies[root.part_id].append(Supply(root.pk, sorted(alive, key=_advance), promised))
        sources[root.pk] = SupplyBatch(root.pk, root.code, sum(promises.shares.get(root.pk, {}).values()), left)
    in_family = {lot_id for family in families for lot_id in family.lots}
    for lot_id, part_id in part_of.items():
        if lot_id not in in_family:
            supplies[part_id].append(Supply(-lot_id, sorted(pieces[lot_id], key=_advance), kept[lot_id]))
    return supplies, sources


def _pieces(part_ids: set[int], on: date) -> tuple[dict[int, list[tuple[Stage, int]]], dict[int, int]]:
    """By lot: pieces that exist, as far as they are; and each lot's part. Finished ones too old to use are none."""
    accounts = Account.objects.filter(lot__part__in=part_ids, condition__in=_ALIVE, balance__gt=0)
    finished = accounts.filter(condition__in=(Condition.STOCK, Condition.ON_THE_ROAD), step=0)
    stopped = {lot_id: stop.code for lot_id, stop in stops(finished, purposes_at_rest(part_ids), on).items()}
    bench = own_bench(Site.objects.all())
    pieces: dict[int, list[tuple[Stage, int]]] = defaultdict(list)
    part_of: dict[int, int] = {}
    for lot_id, part_id, site_id, condition, step, balance, routing_id in accounts.order_by(
        "lot_id", "step"
    ).values_list("lot_id", "lot__part_id", "site_id", "condition", "step", "balance", "lot__batch__routing_id"):
        part_of[lot_id] = part_id
        stop = None if step or condition in (Condition.IN_PROCESS, Condition.REWORK) else stopped.get(lot_id)
        if stop != "expired":
            here = bench is not None and bench.pk == site_id
            pieces[lot_id].append((_stage(condition, step, stop, routing_id or 0, here=here), balance))
    return pieces, part_of


def _kept(line_ids: Sequence[int]) -> dict[int, dict[int, int]]:
    """By lot and line: what is reserved and not used yet."""
    kept: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for keep in reserved.kept(line_ids=line_ids):
        kept[keep.lot_id][keep.line_id] += keep.left
    return kept


def _stage(condition: str, step: int, stop: str | None, routing_id: int, *, here: bool) -> Stage:
    if condition == Condition.ON_THE_ROAD:
        return Stage("work", step, routing_id) if step else Stage("road", 0, routing_id)
    if condition == Condition.REWORK:
        # What goes into a piece went in when it was first there.
        return Stage("work", step + 1, routing_id)
    if condition == Condition.IN_PROCESS:
        return Stage("work", step, routing_id)
    if step:
        return Stage("work", step + 1, routing_id)
    if not here:
        return Stage("away", 0, routing_id)
    return Stage("stopped" if stop else "ready", 0, routing_id)


def _advance(row: tuple[Stage, int]) -> tuple[int, int]:
    stage, _quantity = row
    return _ADVANCE.index(stage.state), -stage.ahead


class _Promises:
    """Shares of lines in batches, less what the batches have brought."""

    def __init__(self, families: Sequence[BatchFamily], line_ids: Sequence[int]) -> None:
        lots = [lot_id for family in families for lot_id in family.lots]
        self.gone, self.outside = went_on(lots), through_reservations(lots)
        self.due = {line_id: place for place, line_id in enumerate(line_ids)}
        self.shares: dict[int, dict[int, int]] = defaultdict(dict)
        roots = [family.root.pk for family in families]
        for batch_id, line_id, quantity in BatchShare.objects.filter(batch__in=roots).values_list(
            "batch_id", "line_id", "quantity"
        ):
            self.shares[batch_id][line_id] = quantity

    def unborn(self, family: BatchFamily, alive: int) -> int:
        """Pieces that an open batch may still make of what it was released for."""
        return still_to_make(family, alive, sum(self.gone[lot_id] for lot_id in family.lots))

    def left(self, family: BatchFamily) -> dict[int, int]:
        """By line: what it has not had yet of its share. What was brought went to lines that are closed, then due."""
        brought = sum(self.gone[lot_id] - self.outside[lot_id] for lot_id in family.lots)
        found: dict[int, int] = {}
        shares = self.shares.get(family.root.pk, {})
        for line_id in sorted(shares, key=lambda pk: (pk in self.due, self.due.get(pk, 0))):
            had = min(shares[line_id], max(0, brought))
            brought -= had
            if line_id in self.due and shares[line_id] > had:
                found[line_id] = shares[line_id] - had
        return found
