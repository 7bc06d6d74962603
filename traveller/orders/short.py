"""What is missing for order lines: what they still want, against all that lies finished and all that is under way.

Seen as soon as it arises, while the batch that fell short may still be open. At best: as if every piece that is
under way came out good, so that what is called missing is missing. No dates: when the rest comes is the plan's.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from traveller.orders import network as networks
from traveller.orders.models import OrderLine
from traveller.orders.network import Network, is_part
from traveller.orders.supplies import Stage, State, supplies_of
from traveller.products.frozen import operations_of
from traveller.products.models import BillLine, OperationKind, Part
from traveller.products.queries import present_bill
from traveller.rules.coverage import Given, cover
from traveller.rules.netting import low_level_codes
from traveller.rules.yields import MILLION


@dataclass(frozen=True, slots=True)
class FellShort:
    """A batch, splits included, that brings too little. `unmet`: (line's id, pieces of its share that won't come)."""

    batch_id: int
    code: str
    promised: int
    unmet: tuple[tuple[int, int], ...]

    @property
    def brings(self) -> int:
        """Of what lines were promised of it, what came or can still come."""
        return self.promised - sum(quantity for _line, quantity in self.unmet)


@dataclass(frozen=True, slots=True)
class Short:
    """Of a made part so many are missing for open order lines, due first; `batches`: those that brought too little."""

    part: Part
    lines: tuple[tuple[OrderLine, int], ...]
    batches: tuple[FellShort, ...]

    @property
    def missing(self) -> int:
        """Pieces in all."""
        return sum(quantity for _line, quantity in self.lines)


@dataclass(slots=True)
class Outlook:
    """An order line's pieces that are to follow, each once.

    `packed` (in cartons, not shipped), by state what it can count on, `short` (nothing covers them), `unreleased`.
    `expected`: finished pieces at the planned yields of the steps ahead, and as its components allow, those packed
    and shipped included.
    """

    line: OrderLine
    packed: int = 0
    by_state: dict[State, int] = field(default_factory=dict)
    short: int = 0
    unreleased: int = 0
    expected: int = 0
    batch_ids: set[int] = field(default_factory=set)

    def of(self, state: State) -> int:
        """Pieces in this state that the line can count on."""
        return self.by_state.get(state, 0)


@dataclass(frozen=True, slots=True)
class Lookout:
    """What is missing, part by part, users before what they use; and every open line's outlook, by its id."""

    short: tuple[Short, ...] = ()
    lines: Mapping[int, Outlook] = field(default_factory=dict)

    def of_order(self, order_id: int) -> tuple[Short, ...]:
        """What is missing for one order, its own lines only."""
        mine = [
            Short(row.part, tuple((line, n) for line, n in row.lines if line.order_id == order_id), row.batches)
            for row in self.short
        ]
        return tuple(row for row in mine if row.lines)


def look_out(on: date) -> Lookout:
    """All open orders; the number of queries does not grow with them, but by one for each generation of splits."""
    lines = list(
        OrderLine.objects.filter(order__closed_at=None)
        .select_related("order", "part")
        .defer("part__picture")
        .order_by("due_on", "order__number", "number")
    )
    outlooks = {line.pk: _outlook(line) for line in lines}
    network = networks.read_network([line.part.number for line in lines])
    if any(problem.code == "bill_loop" for problem in network.problems):
        return Lookout((), outlooks)
    run = _Run(on, lines, network)
    short = run.short()
    for line in lines:
        run.fill(outlooks[line.pk])
    return Lookout(short, outlooks)


def _outlook(line: OrderLine) -> Outlook:
    taken_care_of = max(line.released, line.packed)
    return Outlook(
        line,
        packed=max(0, min(line.packed, line.quantity) - line.shipped),
        unreleased=max(0, line.quantity - taken_care_of),
    )


class _Run:
    """One look: what was read, and what each line can count on, part by part, users before what they use."""

    def __init__(self, on: date, lines: Sequence[OrderLine], network: Network) -> None:
        self.lines, self.network = lines, network
        made = {part.pk for number, part in network.parts.items() if network.is_made(number)}
        self.bills = _bills(network)
        self.steps: dict[str, list[int]] = defaultdict(list)
        for number, step in self.bills:
            if step:
                self.steps[number].append(step)
        self.supplies, self.families = supplies_of(made, on, [line.pk for line in lines])
        # By part's number and line: pieces wanted, times a thousand, since bills count by the thousand.
        self.wants: dict[str, dict[int, int]] = defaultdict(lambda: defaultdict(int))
        self.given: dict[str, tuple[Given[Stage], ...]] = {}
        self.missing: dict[str, Mapping[int, int]] = {}
        for line in lines:
            left = min(line.quantity, line.released) - line.packed
            if left > 0:
                self.wants[line.part.number][line.pk] += 1000 * left
                self._use(line.part.number, line.pk, left, [0])

    def _use(self, number: str, line_id: int, quantity: int, steps: Iterable[int]) -> None:
        """So many pieces are still to go through these steps (0: packing), and take what their bill says there."""
        for step in steps:
            for component, per_thousand in self.bills.get((number, step), ()):
                self.wants[component][line_id] += quantity * per_thousand

    def short(self) -> tuple[Short, ...]:
        """Cover part by part; what a line must have made anew wants its components anew."""
        levels = low_level_codes(self.network.bills)
        order = sorted(filter(is_part, self.network.parts), key=lambda number: (levels.get(number, 0), number))
        by_id = {line.pk: line for line in self.lines}
        found = []
        for number in order:
            if not self.network.is_made(number) or number not in self.wants:
                continue
            # Whole pieces, rounded up once a line; lines stay in the order in which they are due.
            wants = {pk: -(-self.wants[number][pk] // 1000) for pk in by_id if self.wants[number].get(pk)}
            part = self.network.parts[number]
            covered = cover(wants, self.supplies.get(part.pk, []))
            self.given[number], self.missing[number] = covered.given, covered.short
            for given in covered.given:
                self._use(number, given.line, given.quantity, self._ahead(number, given.stage))
            for line_id, quantity in covered.short.items():
                self._use(number, line_id, quantity, self.steps[number])
            if covered.short:
                rows = tuple((by_id[pk], quantity) for pk, quantity in covered.short.items())
                found.append(Short(part, rows, self._fell_short(part.pk, covered.given, covered.short)))
        return tuple(found)

    def _ahead(self, number: str, stage: Stage) -> list[int]:
        """Steps of the bill that these pieces have not been through."""
        if stage.state == "unborn":
            return self.steps[number]
        return [step for step in self.steps[number] if stage.ahead and step >= stage.ahead]

    def _fell_short(
        self, part_id: int, given: Iterable[Given[Stage]], short: Mapping[int, int]
    ) -> tuple[FellShort, ...]:
        """Batches that a line which lacks pieces was promised more of than they bring."""
        got: dict[tuple[int, int], int] = defaultdict(int)
        for row in given:
            got[row.supply, row.line] += row.quantity
        found = []
        for supply in self.supplies.get(part_id, ()):
            family = self.families.get(supply.key)
            if family is None:
                continue
            unmet = tuple(
                (line, min(share, promised - got[supply.key, line]))
                for line, promised in supply.promised.items()
                if line in short and promised > got[supply.key, line] and (share := family.left.get(line, 0))
            )
            if unmet:
                found.append(FellShort(family.batch_id, family.code, family.shared, unmet))
        return tuple(found)

    def fill(self, outlook: Outlook) -> None:
        """What the line's own part has for it, by state, and what is to be expected of it."""
        line, number = outlook.line, outlook.line.part.number
        expected = Fraction(0)
        unborn = 0
        for given in self.given.get(number, ()):
            if given.line != line.pk:
                continue
            state = given.stage.state
            outlook.by_state[state] = outlook.of(state) + given.quantity
            if given.supply in self.families:
                outlook.batch_ids.add(self.families[given.supply].batch_id)
            expected += given.quantity * _yield_ahead(given.stage)
            unborn += given.quantity if state == "unborn" else 0
        outlook.short = self.missing.get(number, {}).get(line.pk, 0)
        expected -= min(unborn, self._cannot_be_born(number, line.pk))
        outlook.expected = min(line.packed, line.quantity) + max(0, int(expected))

    def _cannot_be_born(self, number: str, line_id: int) -> int:
        """Pieces that nothing can be assembled for, since one of their components is missing."""
        most = 0
        for (of, _step), uses in self.bills.items():
            for component, per_thousand in uses if of == number else ():
                lacks = self.missing.get(component, {}).get(line_id, 0)
                most = max(most, -(-lacks * 1000 // per_thousand))
        return most


def _bills(network: Network) -> dict[tuple[str, int], list[tuple[str, int]]]:
    """By part and step: what is used there, per thousand pieces; 0 is packing."""
    by_id = {part.pk: number for number, part in network.parts.items()}
    found: dict[tuple[str, int], list[tuple[str, int]]] = defaultdict(list)
    rows: Iterable[BillLine] = present_bill().filter(routing__part__in=by_id).order_by("step", "id")
    for row in rows:
        if row.component_id in by_id and row.per_thousand > 0:
            found[by_id[row.routing.part_id], row.step].append((by_id[row.component_id], row.per_thousand))
    return dict(found)


def _yield_ahead(stage: Stage) -> Fraction:
    """The share of pieces that the steps ahead are planned to bring through."""
    share = Fraction(1)
    if stage.state not in ("work", "unborn") or not stage.routing_id:
        return share
    for operation in operations_of(stage.routing_id):
        # What a batch is yet to make was planned with its yields.
        if stage.state == "work" and operation.kind != OperationKind.PREPARE and operation.number >= stage.ahead:
            share *= Fraction(operation.yield_ppm, MILLION)
    return share
