"""Bills and routings as one network of keys that rules.netting can net.

A made part is a chain: the finished part needs its last operation, an operation the one before it and the
components consumed there, so that each component is exploded from the pieces that enter its own operation.
What is added at packing hangs on a key of its own, since only the pieces that are packed need it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from traveller.orders.planned import PlanProblem
from traveller.products.models import BillLine, Operation, OperationKind, Part, PartKind
from traveller.products.queries import present_bill, present_routings
from traveller.rules.netting import NeedPerThousand, find_loop
from traveller.rules.yields import YieldStep, start_quantities

# No part number holds a control character.
_MARK = "\x1f"


def step_key(part: str, number: int) -> str:
    return f"{part}{_MARK}{number}"


def pack_key(part: str) -> str:
    return f"{part}{_MARK}packing"


def is_part(key: str) -> bool:
    return _MARK not in key


def yield_step(operation: Operation) -> YieldStep:
    return YieldStep(
        number=operation.number,
        yield_ppm=operation.yield_ppm,
        taken=operation.taken,
        cavities=operation.cavities,
        startup_shots=operation.startup_shots,
        load_size=operation.load_size,
    )


@dataclass
class Network:
    """Everything reachable from the parts wanted."""

    parts: dict[str, Part] = field(default_factory=dict)
    operations: dict[str, Sequence[Operation]] = field(default_factory=dict)
    bills: dict[str, list[NeedPerThousand]] = field(default_factory=dict)
    by_key: dict[str, Operation] = field(default_factory=dict)
    problems: list[PlanProblem] = field(default_factory=list)

    def start_of(self, key: str, good: int) -> int:
        """What enters an operation for so many good ones; a making step takes material for whole shots."""
        operation = self.by_key.get(key)
        if operation is None:
            return good
        planned = start_quantities(good, [yield_step(operation)])[0]
        return max(planned.enters, (planned.shots or 0) * operation.cavities)

    def components(self, key: str) -> list[NeedPerThousand]:
        """The needs of a key that are parts of their own, not the chain's inner keys."""
        owner = key.partition(_MARK)[0]
        return [need for need in self.bills.get(key, ()) if is_part(need.component) and need.component != owner]

    def is_made(self, part: str) -> bool:
        return self.parts[part].kind == PartKind.MADE


def read_network(wanted: Sequence[str]) -> Network:
    """Read bills and present routings; three queries."""
    parts = {part.pk: part for part in Part.objects.defer("picture").select_related("supplier")}
    bill: dict[int, list[BillLine]] = defaultdict(list)
    for line in present_bill().order_by("id"):
        bill[line.routing.part_id].append(line)
    operations = _operations()
    network = Network()
    by_number = {part.number: part for part in parts.values()}
    waiting: list[Part] = []
    for number in dict.fromkeys(wanted):
        part = by_number[number]
        added = [line for line in bill[part.pk] if line.step == 0]
        network.bills[pack_key(number)] = [NeedPerThousand(number, 1000), *_needs(added, parts)]
        waiting += [part, *(parts[line.component_id] for line in added)]
    seen: set[int] = set()
    while waiting:
        part = waiting.pop()
        if part.pk in seen:
            continue
        seen.add(part.pk)
        network.parts[part.number] = part
        if part.kind != PartKind.MADE:
            continue
        lines = [line for line in bill[part.pk] if line.step != 0]
        _chain(network, part, operations.get(part.pk, []), lines, parts)
        waiting += [parts[line.component_id] for line in lines]
    if loop := find_loop(network.bills):
        network.problems.append(PlanProblem("bill_loop", {"parts": list(filter(is_part, loop))}))
    return network


def _operations() -> Mapping[int, Sequence[Operation]]:
    """The operations of each part's present routing, in their order."""
    found: dict[int, list[Operation]] = defaultdict(list)
    present = Operation.objects.filter(routing__in=present_routings().order_by())
    for operation in present.select_related("site", "routing").order_by("number"):
        found[operation.routing.part_id].append(operation)
    return found


def _chain(
    network: Network, part: Part, operations: Sequence[Operation], lines: Sequence[BillLine], parts: Mapping[int, Part]
) -> None:
    """A made part's keys, from the finished part back to its first operation."""
    if not any(operation.kind != OperationKind.PREPARE for operation in operations):
        network.problems.append(PlanProblem("no_routing", {"part": part.number}))
        return
    network.operations[part.number] = operations
    numbers = {operation.number for operation in operations}
    for line in lines:
        if line.step not in numbers:
            component = parts[line.component_id].number
            network.problems.append(
                PlanProblem("bill_step_unknown", {"part": part.number, "component": component, "step": line.step})
            )
    before: list[NeedPerThousand] = []
    for operation in operations:
        key = step_key(part.number, operation.number)
        network.by_key[key] = operation
        used = [line for line in lines if line.step == operation.number]
        network.bills[key] = [*before, *_needs(used, parts)]
        before = [NeedPerThousand(key, 1000)]
    network.bills[part.number] = before


def _needs(lines: Iterable[BillLine], parts: Mapping[int, Part]) -> list[NeedPerThousand]:
    return [NeedPerThousand(parts[line.component_id].number, line.per_thousand) for line in lines]
