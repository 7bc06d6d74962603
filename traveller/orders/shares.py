"""Who gets what: every part's stock, work under way and rest shared out over the order lines that need it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence

from traveller.orders.models import OrderLine
from traveller.orders.network import Network, pack_key
from traveller.rules.netting import NetNeed, used_by

ByLine = dict[int, int]


def share_out(quantity: int, weights: Mapping[int, int]) -> ByLine:
    """A quantity in proportion to the weights, in whole units that sum to it exactly."""
    whole = sum(weights.values())
    shares: ByLine = {}
    passed = given = 0
    for line_id, weight in weights.items():
        passed += weight
        upto = quantity * passed // whole if whole else 0
        shares[line_id] = upto - given
        given = upto
    return shares


def first_come(quantity: int, wants: Mapping[int, int]) -> ByLine:
    """A quantity to the lines in their order until it is used up."""
    shares: ByLine = {}
    for line_id, wanted in wants.items():
        part = min(quantity, wanted)
        if part:
            shares[line_id] = part
            quantity -= part
    return shares


def _less(wants: Mapping[int, int], given: Mapping[int, int]) -> ByLine:
    return {line_id: rest for line_id, wanted in wants.items() if (rest := wanted - given.get(line_id, 0)) > 0}


class Shares:
    """By part number and line: from free stock, from work under way, and the rest. Lines come due-first."""

    def __init__(
        self,
        lines: Sequence[OrderLine],
        needs: Mapping[str, NetNeed],
        network: Network,
        wanted: Callable[[OrderLine], int],
    ) -> None:
        self.lines = lines
        self.free: dict[str, ByLine] = defaultdict(dict)
        self.under_way: dict[str, ByLine] = defaultdict(dict)
        self.rest: dict[str, ByLine] = defaultdict(dict)
        gross: dict[str, ByLine] = defaultdict(dict)
        for line in lines:
            gross[pack_key(line.part.number)][line.pk] = wanted(line)
        order = [line.pk for line in lines]
        # `needs` comes users first, so that a key's wants are complete when it is reached.
        for key, need in needs.items():
            wants = {line_id: gross[key][line_id] for line_id in order if gross[key].get(line_id)}
            self.free[key] = first_come(need.from_free, wants)
            wants = _less(wants, self.free[key])
            self.under_way[key] = first_come(need.from_under_way, wants)
            self.rest[key] = _less(wants, self.under_way[key])
            for component, quantity in used_by(need.start, network.bills.get(key, ())).items():
                for line_id, part in share_out(quantity, self.rest[key]).items():
                    gross[component][line_id] = gross[component].get(line_id, 0) + part
