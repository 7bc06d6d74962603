"""From order lines to a plan: explode, net, start quantities, dates backward, and who gets what."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date

from django.db.models import F

from traveller.orders import network as networks
from traveller.orders import stock as stocks
from traveller.orders.calendars import Calendars, own_bench
from traveller.orders.dates import Timetable
from traveller.orders.issues import issues_and_shortages
from traveller.orders.models import Need, OrderLine, Purchase
from traveller.orders.network import Network, is_part, pack_key
from traveller.orders.planned import (
    Assumption,
    Plan,
    PlannedBatch,
    PlannedLine,
    PlannedReservation,
    PlannedStep,
    PlanProblem,
    Share,
    UnderWay,
)
from traveller.orders.shares import Shares
from traveller.orders.stock import Stock
from traveller.products.models import OperationKind
from traveller.rules.netting import NetNeed, net
from traveller.rules.workdays import NeverOpen
from traveller.rules.yields import start_quantities

__all__ = ["Plan", "make_plan", "to_plan"]


def make_plan(line_ids: Iterable[int], *, on: date) -> Plan:
    """Plan what is not yet released of these lines, as stock and batches stand on that day. Changes nothing."""
    lines = list(
        OrderLine.objects.filter(pk__in=list(line_ids), quantity__gt=F("released"), order__closed_at=None)
        .select_related("order", "part")
        .defer("part__picture")
        .order_by("due_on", "order__number", "number")
    )
    lines = [line for line in lines if to_plan(line) > 0]
    if not lines:
        return Plan(on, problems=(PlanProblem("nothing_to_release", {}),))
    network = networks.read_network([line.part.number for line in lines])
    if network.problems:
        return Plan(on, problems=tuple(network.problems))
    calendars = Calendars()
    bench = own_bench(calendars.sites.values())
    if bench is None:
        return Plan(on, problems=(PlanProblem("no_own_bench", {}),))
    part_ids = [part.pk for part in network.parts.values()]
    stock = stocks.look(on, part_ids=part_ids)
    try:
        return _Planner(on, lines, network, calendars, bench.pk, stock, waiting_of(part_ids)).plan()
    except NeverOpen:
        # A closure without an end, or one year for ten: which site it is, the sites' page shows.
        return Plan(on, problems=(PlanProblem("never_open", {}),))


def to_plan(line: OrderLine) -> int:
    """What neither a release nor the packer has taken care of."""
    return line.quantity - max(line.released, line.packed)


def waiting_of(part_ids: Iterable[int]) -> dict[int, int]:
    """Bought parts on order that no released line waits for, by part."""
    ids = list(part_ids)
    waiting: dict[int, int] = defaultdict(int)
    for part_id, rest in Purchase.objects.filter(part__in=ids, closed_at=None).values_list(
        "part_id", F("quantity") - F("received")
    ):
        waiting[part_id] += max(0, rest)
    for part_id, left in Need.objects.filter(part__in=ids, left__gt=0).values_list("part_id", "left"):
        waiting[part_id] -= left
    return {part_id: max(0, quantity) for part_id, quantity in waiting.items()}


class _Planner:
    """One run: what was read, and what follows from it, part by part, users before what they use."""

    def __init__(
        self,
        on: date,
        lines: list[OrderLine],
        network: Network,
        calendars: Calendars,
        bench_id: int,
        stock: Stock,
        waiting: Mapping[int, int],
    ) -> None:
        self.on, self.lines, self.network, self.calendars = on, lines, network, calendars
        self.bench_id, self.stock = bench_id, stock
        self.free: dict[str, int] = {}
        self.spare: dict[str, int] = {}
        for number, part in network.parts.items():
            self.free[number] = stock.free_of(part.pk)
            batches = sum(spare.quantity for spare in stock.spare if spare.part_id == part.pk)
            self.spare[number] = batches + waiting.get(part.pk, 0)
        demand: dict[str, int] = defaultdict(int)
        for line in lines:
            demand[pack_key(line.part.number)] += to_plan(line)
        self.net = net(demand, network.bills, self.free, self.spare, network.start_of)
        self.shares = Shares(lines, self.net, network, to_plan)
        self.timetable = Timetable(network, calendars, self.net, bench_id)
        for line in lines:
            self.timetable.sell(line.part.number, to_plan(line), line.due_on)

    def plan(self) -> Plan:
        self.timetable.run()
        parts = [need for key, need in self.net.items() if is_part(key)]
        made = [need for need in parts if self.network.is_made(need.part) and need.to_make_or_buy]
        reservations = [row for need in parts for row in self._reservations(need)]
        issues, shortages = issues_and_shortages(
            self.network, self.calendars, self.net, self.shares, self.timetable.demands, self.stock
        )
        return Plan(
            on=self.on,
            lines=tuple(self._line(line) for line in self.lines),
            batches=tuple(self._batch(need) for need in made),
            reservations=tuple(reservations),
            under_way=tuple(row for need in parts for row in self._under_way(need)),
            shortages=tuple(shortages),
            issues=tuple(issues),
            assumptions=tuple(self._assumptions(made)),
        )

    def _line(self, line: OrderLine) -> PlannedLine:
        number = line.part.number
        free, under_way, rest = (
            shares.get(line.pk, 0)
            for shares in (self.shares.free[number], self.shares.under_way[number], self.shares.rest[number])
        )
        # The same part may also go into another line's product: what exceeds the line itself is not its own.
        own = to_plan(line)
        free, under_way = min(free, own), min(under_way, own - min(free, own))
        return PlannedLine(
            line.pk, line.order.number, line.number, number, line.part.title, own, line.due_on,
            free, under_way, min(rest, own - free - under_way),
        )  # fmt: skip

    def _batch(self, need: NetNeed) -> PlannedBatch:
        operations = self.network.operations[need.part]
        quantities = start_quantities(need.to_make_or_buy, [networks.yield_step(o) for o in operations])
        schedule = self.timetable.schedules[need.part]
        steps = tuple(
            PlannedStep(
                operation.number, operation.site.code, operation.verb, planned.enters, planned.leaves,
                planned.shots, planned.loads, schedule.start_of[operation.number],
            )
            for operation, planned in zip(operations, quantities, strict=True)
        )  # fmt: skip
        first = next(i for i, operation in enumerate(operations) if operation.kind != OperationKind.PREPARE)
        return PlannedBatch(
            part=need.part,
            title=self.network.parts[need.part].title,
            wanted=need.to_make_or_buy,
            start=steps[first].enters,
            shots=next((step.shots for step in steps if step.shots is not None), None),
            destination=self.calendars.sites[schedule.destination_id].code,
            start_on=schedule.start_on,
            due_on=schedule.due_on,
            late=schedule.start_on < self.on,
            steps=steps,
            shares=self._named(self.shares.rest[need.part]),
        )

    def _named(self, shares: Mapping[int, int]) -> tuple[Share, ...]:
        return tuple(
            Share(line.pk, line.order.number, line.number, shares[line.pk])
            for line in self.lines
            if shares.get(line.pk)
        )

    def _reservations(self, need: NetNeed) -> Iterable[PlannedReservation]:
        """First expired first, to the line due first."""
        part_id = self.network.parts[need.part].pk
        shelves = [[shelf, shelf.free] for shelf in self.stock.shelves if shelf.part_id == part_id]
        for line in self.lines:
            wanted = self.shares.free[need.part].get(line.pk, 0)
            for row in shelves:
                shelf, left = row
                assert isinstance(shelf, stocks.Shelf) and isinstance(left, int)
                part = min(wanted, left)
                if part <= 0:
                    continue
                row[1] = left - part
                wanted -= part
                yield PlannedReservation(
                    line.pk, need.part, shelf.lot_id, shelf.code, self.calendars.sites[shelf.site_id].code,
                    part, shelf.expires_on, shelf.coming,
                )  # fmt: skip

    def _under_way(self, need: NetNeed) -> Iterable[UnderWay]:
        part_id = self.network.parts[need.part].pk
        left = {spare.batch_id: spare.quantity for spare in self.stock.spare if spare.part_id == part_id}
        codes = {spare.batch_id: spare.code for spare in self.stock.spare}
        for line in self.lines:
            wanted = self.shares.under_way[need.part].get(line.pk, 0)
            for batch_id in left:
                part = min(wanted, left[batch_id])
                if part > 0:
                    left[batch_id] -= part
                    wanted -= part
                    yield UnderWay(line.pk, need.part, batch_id, codes[batch_id], part)

    def _assumptions(self, made: list[NetNeed]) -> Iterable[Assumption]:
        """Everything that is believed and not known."""
        sites: set[int] = set()
        for need in made:
            for operation in self.network.operations[need.part]:
                sites.add(operation.site_id)
                figures: dict[str, int | str] = {
                    "part": need.part,
                    "step": operation.number,
                    "verb": operation.verb,
                    "yield_ppm": operation.yield_ppm,
                    "destroyed": operation.destroyed,
                    "kept": operation.kept,
                    "cavities": operation.cavities,
                    "load_size": operation.load_size,
                    "startup_shots": operation.startup_shots,
                }
                yield Assumption("step_yield", figures)
        if made:
            yield Assumption("mean_yield", {})
        for pk in sorted(sites):
            site = self.calendars.sites[pk]
            yield Assumption("turnaround", {"site": site.code, "days": site.turnaround_days, "shifts": site.shifts})
        for origin, destination in sorted(self.timetable.ways):
            days, known = self.calendars.transit_days(origin, destination)
            names: dict[str, int | str] = {
                "origin": self.calendars.sites[origin].code,
                "destination": self.calendars.sites[destination].code,
                "days": days,
            }
            yield Assumption("transit" if known else "transit_unknown", names)
        yield Assumption("bench", {"site": self.calendars.sites[self.bench_id].code})
