"""How many can be assembled, and what limits them? Kits now, and shared parts allocated once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

__all__ = ["KitCount", "KitShare", "KitWish", "allocate", "kits_possible"]


@dataclass(frozen=True, slots=True)
class KitCount:
    """Kits that can be assembled, the part that limits them, the next that would, and kits up to there.

    Without any component nothing limits: kits is 0 and limiting None. after_next is None when there is
    only one component.
    """

    kits: int
    limiting: str | None
    next_limiting: str | None
    after_next: int | None


@dataclass(frozen=True, slots=True)
class KitWish:
    """A product to assemble: base units of each component per thousand kits; wanted None = all it can."""

    product: str
    per_thousand: Mapping[str, int]
    wanted: int | None = None


@dataclass(frozen=True, slots=True)
class KitShare:
    """What one product gets: kits, the component that stops it (None = its wish is met), what it uses."""

    product: str
    kits: int
    limiting: str | None
    used: Mapping[str, int]


def kits_possible(free: Mapping[str, int], per_thousand: Mapping[str, int]) -> KitCount:
    """Kits = the least over components of floor(free / per kit); free is what is neither held nor taken.

    >>> kits_possible({"body": 1000, "band": 400}, {"body": 1000, "band": 1000})
    KitCount(kits=400, limiting='band', next_limiting='body', after_next=1000)
    """
    reach = sorted((max(free.get(part, 0), 0) * 1000 // rate, part) for part, rate in per_thousand.items() if rate > 0)
    if not reach:
        return KitCount(0, None, None, None)
    kits, limiting = reach[0]
    after_next, next_limiting = reach[1] if len(reach) > 1 else (None, None)
    return KitCount(kits, limiting, next_limiting, after_next)


def allocate(free: Mapping[str, int], wishes: Sequence[KitWish]) -> tuple[KitShare, ...]:
    """Kits of several products, in the order of priority given; each piece of a shared part goes once."""
    left = {part: max(quantity, 0) for part, quantity in free.items()}
    shares: list[KitShare] = []
    for wish in wishes:
        count = kits_possible(left, wish.per_thousand)
        met = wish.wanted is not None and count.kits >= wish.wanted
        kits = wish.wanted if wish.wanted is not None and met else count.kits
        used = {part: -(-kits * rate // 1000) for part, rate in wish.per_thousand.items()}
        for part, quantity in used.items():
            left[part] = left.get(part, 0) - quantity
        shares.append(KitShare(wish.product, kits, None if met else count.limiting, used))
    return tuple(shares)
