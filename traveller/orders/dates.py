"""Due dates, backward: a batch is at its destination before the visit starts that consumes it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from traveller.orders.calendars import Calendars, back
from traveller.orders.network import Network, is_part, pack_key, step_key
from traveller.products.models import Operation
from traveller.rules.netting import NetNeed, used_by
from traveller.rules.workdays import add_working_days, previous_open_day


@dataclass(frozen=True, slots=True)
class Demand:
    """So much of a part is needed at a site on a day."""

    part: str
    site_id: int
    quantity: int
    on: date


@dataclass(frozen=True, slots=True)
class Schedule:
    """A batch's visits to sites, each taking that site's usual turnaround: the day each step's visit starts."""

    destination_id: int
    due_on: date
    start_on: date
    start_of: Mapping[int, date]


def visits(operations: Sequence[Operation]) -> list[list[Operation]]:
    """Operations that follow each other at one site are one visit: goods stay there."""
    found: list[list[Operation]] = []
    for operation in operations:
        if found and found[-1][-1].site_id == operation.site_id:
            found[-1].append(operation)
        else:
            found.append([operation])
    return found


def earliest(operations: Sequence[Operation], destination_id: int, calendars: Calendars, *, on: date) -> date:
    """The day on which a batch begun on a day is at its destination, at every site's agreed turnaround.

    Raises NeverOpen where a site on the way has no open day within three years.
    """
    day, before = on, None
    for visit in visits(operations):
        here = visit[0].site_id
        day = calendars.there_on(here if before is None else before, here, day)
        day = add_working_days(calendars.of[here], day, calendars.sites[here].turnaround_days)
        before = here
    return calendars.there_on(destination_id if before is None else before, destination_id, day)


class Timetable:
    """Walks the network, users first, and dates every batch and every component."""

    def __init__(self, network: Network, calendars: Calendars, needs: Mapping[str, NetNeed], bench_id: int) -> None:
        self.network, self.calendars, self.needs, self.bench_id = network, calendars, needs, bench_id
        self.demands: dict[str, list[Demand]] = defaultdict(list)
        self.schedules: dict[str, Schedule] = {}
        self.ways: set[tuple[int, int]] = set()
        self._sold_on: dict[str, date] = {}

    def sell(self, part: str, quantity: int, due_on: date) -> None:
        """A line wants the finished part at the own bench on the day it is to be shipped."""
        day = previous_open_day(self.calendars.of[self.bench_id], due_on)
        self.demands[part].append(Demand(part, self.bench_id, quantity, day))
        self._sold_on[part] = min(day, self._sold_on.get(part, day))

    def run(self) -> None:
        for part, day in self._sold_on.items():
            self._components(pack_key(part), self.bench_id, day)
        # Users come before what they use, so that a part's demands are complete when it is reached.
        for key, need in self.needs.items():
            if is_part(key) and need.to_make_or_buy and self.network.is_made(key):
                self._schedule(key)

    def _schedule(self, part: str) -> None:
        """Backward from the earliest demand; destination is where that is."""
        first = min(self.demands[part], key=lambda demand: (demand.on, demand.site_id))
        operations = self.network.operations[part]
        start_of: dict[int, date] = {}
        arrive_on, site_id = first.on, first.site_id
        for visit in reversed(visits(operations)):
            here = visit[0].site_id
            if here != site_id:
                self.ways.add((here, site_id))
            ready_on = self.calendars.leave_by(here, site_id, arrive_on)
            starts = back(self.calendars.of[here], ready_on, self.calendars.sites[here].turnaround_days)
            start_of.update({operation.number: starts for operation in visit})
            arrive_on, site_id = starts, here
        self.schedules[part] = Schedule(first.site_id, first.on, arrive_on, start_of)
        for operation in operations:
            self._components(step_key(part, operation.number), operation.site_id, start_of[operation.number])

    def _components(self, key: str, site_id: int, on: date) -> None:
        need = self.needs.get(key)
        if need is None or not need.start:
            return
        for component, quantity in used_by(need.start, self.network.components(key)).items():
            self.demands[component].append(Demand(component, site_id, quantity, on))
