"""What must be made and bought? Bills exploded by level, netted against what is free or under way."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

__all__ = ["Bills", "NeedPerThousand", "NetNeed", "find_loop", "low_level_codes", "net", "used_by"]


@dataclass(frozen=True, slots=True)
class NeedPerThousand:
    """A bill's line: base units of a component per thousand pieces of the part that uses it."""

    component: str
    per_thousand: int


Bills = Mapping[str, Sequence[NeedPerThousand]]


@dataclass(frozen=True, slots=True)
class NetNeed:
    """One part's balance: gross = from free + from under way + to make or buy; start is what that takes."""

    part: str
    gross: int
    from_free: int
    from_under_way: int
    to_make_or_buy: int
    start: int


def find_loop(bills: Bills) -> tuple[str, ...] | None:
    """The first bill that contains itself, spelled out ("band", "core", "band"), or None."""
    done: set[str] = set()
    for top in bills:
        path: list[str] = []
        stack: list[tuple[str, bool]] = [(top, False)]
        while stack:
            part, leaving = stack.pop()
            if leaving:
                done.add(path.pop())
            elif part in path:
                return (*path[path.index(part) :], part)
            elif part not in done:
                path.append(part)
                stack.append((part, True))
                stack.extend((need.component, False) for need in reversed(bills.get(part, ())))
    return None


def low_level_codes(bills: Bills) -> dict[str, int]:
    """Each part's lowest level in any bill (0 = used in none), so that all its users come before it."""
    loop = find_loop(bills)
    if loop:
        raise ValueError("a bill contains itself: " + " > ".join(loop))
    levels = dict.fromkeys(bills, 0)
    for needs in bills.values():
        levels.update((need.component, 0) for need in needs)
    waiting = list(levels)
    while waiting:
        deeper: dict[str, None] = {}
        for parent in waiting:
            for need in bills.get(parent, ()):
                if levels[need.component] <= levels[parent]:
                    levels[need.component] = levels[parent] + 1
                    deeper[need.component] = None
        waiting = list(deeper)
    return levels


def used_by(parent_quantity: int, needs: Iterable[NeedPerThousand]) -> dict[str, int]:
    """Base units of each component for so many parents, rounded once, upward, at each component's total."""
    per_thousand: dict[str, int] = {}
    for need in needs:
        per_thousand[need.component] = per_thousand.get(need.component, 0) + need.per_thousand
    return {component: -(-parent_quantity * rate // 1000) for component, rate in per_thousand.items()}


def net(
    demand: Mapping[str, int],
    bills: Bills,
    free: Mapping[str, int],
    under_way: Mapping[str, int],
    start_of: Callable[[str, int], int],
) -> dict[str, NetNeed]:
    """Net requirements of every part the demand reaches, users before what they use.

    start_of(part, good) says how many must be started for so many good ones (for a bought part, good
    itself). Components are exploded from the quantity started, since scrap eats components too. Free
    stock is used before what is under way. Quantities in base units; a negative balance counts as none.
    """
    levels = low_level_codes(bills)
    gross = {part: quantity for part, quantity in demand.items() if quantity > 0}
    order = sorted({*levels, *gross}, key=lambda part: (levels.get(part, 0), part))
    needs: dict[str, NetNeed] = {}
    for part in order:
        wanted = gross.get(part, 0)
        if not wanted:
            continue
        from_free = min(wanted, max(free.get(part, 0), 0))
        from_under_way = min(wanted - from_free, max(under_way.get(part, 0), 0))
        rest = wanted - from_free - from_under_way
        start = start_of(part, rest) if rest else 0
        if start < rest:
            raise ValueError(f"{part}: {start} started cannot give {rest} good")
        needs[part] = NetNeed(part, wanted, from_free, from_under_way, rest, start)
        for component, quantity in used_by(start, bills.get(part, ())).items():
            gross[component] = gross.get(component, 0) + quantity
    return needs
