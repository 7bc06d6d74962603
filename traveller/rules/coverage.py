"""Does what exists, or is on its way, cover what is wanted? By line, promises first, each piece counted once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

__all__ = ["Covered", "Given", "Supply", "cover"]

Stage = TypeVar("Stage", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Supply(Generic[Stage]):
    """Pieces from one source. `pieces`: (how far they are, how many), the most advanced first.

    `promised`: by line, how many of them are for it before anybody else; more may be promised than there is.
    """

    key: int
    pieces: Sequence[tuple[Stage, int]]
    promised: Mapping[int, int]


@dataclass(frozen=True, slots=True)
class Given(Generic[Stage]):
    """So many pieces of a supply, as far as they are, that a line can count on."""

    line: int
    supply: int
    stage: Stage
    quantity: int


@dataclass(frozen=True, slots=True)
class Covered(Generic[Stage]):
    """Who gets what, and by line what nothing covers (only lines that lack something are named)."""

    given: tuple[Given[Stage], ...]
    short: Mapping[int, int]


def cover(needs: Mapping[int, int], supplies: Sequence[Supply[Stage]]) -> Covered[Stage]:
    """Lines in the order of `needs` take what is promised to them, then whatever nobody else was promised.

    Needs and pieces in whole units; a need below one counts as none. In all, min(needs, supplies) is given:
    nothing is promised away from a line that lacks it as long as the one it is promised to has enough.

    >>> supply = Supply(1, [("here", 5), ("coming", 10)], {7: 12})
    >>> covered = cover({8: 6, 7: 12}, [supply])
    >>> [(given.line, given.stage, given.quantity) for given in covered.given], dict(covered.short)
    ([(7, 'here', 5), (7, 'coming', 7), (8, 'coming', 3)], {8: 3})
    """
    left = {line: need for line, need in needs.items() if need > 0}
    piles = [[(stage, quantity) for stage, quantity in supply.pieces if quantity > 0] for supply in supplies]
    given: dict[tuple[int, int, Stage], int] = defaultdict(int)

    def take(line: int, index: int, most: int) -> None:
        pile = piles[index]
        while most > 0 and pile:
            stage, quantity = pile[0]
            part = min(most, quantity)
            given[line, supplies[index].key, stage] += part
            most -= part
            left[line] -= part
            pile[:1] = [(stage, quantity - part)] if quantity > part else []

    for line in left:
        for index, supply in enumerate(supplies):
            take(line, index, min(left[line], supply.promised.get(line, 0)))
    for line in left:
        for index in range(len(supplies)):
            take(line, index, left[line])
    return Covered(
        tuple(Given(line, key, stage, quantity) for (line, key, stage), quantity in given.items()),
        {line: rest for line, rest in left.items() if rest},
    )
