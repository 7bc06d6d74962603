"""Kits: the scarcest part decides, and a shared part is never promised twice."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.kits import KitCount, KitShare, KitWish, allocate, kits_possible

PARTS = ["globe", "band", "foot", "ink"]
stocks = st.dictionaries(st.sampled_from(PARTS), st.integers(-5, 2000))
rates = st.dictionaries(st.sampled_from(PARTS), st.integers(1, 3000), min_size=1)
wishes = st.builds(
    KitWish, product=st.just("lantern"), per_thousand=rates, wanted=st.one_of(st.none(), st.integers(0, 1500))
)


def needed(kits: int, rate: int) -> int:
    return -(-kits * rate // 1000)


def test_a_thousand_bodies_and_four_hundred_bands_make_four_hundred_kits() -> None:
    found = kits_possible({"body": 1000, "band": 400, "carton": 700}, {"body": 1000, "band": 1000, "carton": 1000})
    assert found == KitCount(kits=400, limiting="band", next_limiting="carton", after_next=700)


def test_a_part_of_which_nothing_is_known_or_owed_makes_no_kit() -> None:
    assert kits_possible({}, {"globe": 1000}) == KitCount(0, "globe", None, None)
    assert kits_possible({"globe": -3, "foot": 5}, {"globe": 1000, "foot": 1000}) == KitCount(0, "globe", "foot", 5)


def test_nothing_asked_for_is_no_kit_and_no_limit() -> None:
    assert kits_possible({"globe": 5}, {}) == KitCount(0, None, None, None)
    assert kits_possible({"globe": 5}, {"globe": 1000, "leaflet": 0}).limiting == "globe"


def test_a_quarter_millilitre_each_is_counted_at_the_total() -> None:
    assert kits_possible({"ink": 31}, {"ink": 250}).kits == 124


@given(stocks, rates)
def test_the_kits_fit_into_stock_and_one_more_would_not(free: dict[str, int], per_thousand: dict[str, int]) -> None:
    found = kits_possible(free, per_thousand)
    assert all(needed(found.kits, rate) <= max(free.get(part, 0), 0) for part, rate in per_thousand.items())
    assert found.limiting is not None
    short = free.get(found.limiting, 0)
    assert needed(found.kits + 1, per_thousand[found.limiting]) > short


@given(stocks, rates)
def test_unlimited_stock_of_the_limiting_part_gives_the_kits_of_the_next(
    free: dict[str, int], per_thousand: dict[str, int]
) -> None:
    found = kits_possible(free, per_thousand)
    if found.limiting is not None and found.after_next is not None:
        assert kits_possible({**free, found.limiting: 10**9}, per_thousand).kits == found.after_next >= found.kits


@given(stocks, st.lists(wishes, max_size=5))
def test_a_shared_part_is_never_allocated_twice(free: dict[str, int], wanted: Sequence[KitWish]) -> None:
    shares = allocate(free, wanted)
    assert [share.product for share in shares] == [wish.product for wish in wanted]
    for part in PARTS:
        assert sum(share.used.get(part, 0) for share in shares) <= max(free.get(part, 0), 0)
    for wish, share in zip(wanted, shares, strict=True):
        assert wish.wanted is None or share.kits <= wish.wanted
        assert (share.limiting is None) == (share.kits == wish.wanted)


def test_the_first_in_line_takes_the_shared_part_and_the_next_gets_the_rest() -> None:
    clear = KitWish("clear", {"clear globe": 1000, "band": 1000}, wanted=60)
    amber = KitWish("amber", {"amber globe": 1000, "band": 1000}, wanted=60)
    free = {"clear globe": 100, "amber globe": 100, "band": 100}
    assert allocate(free, [clear, amber]) == (
        KitShare("clear", 60, None, {"clear globe": 60, "band": 60}),
        KitShare("amber", 40, "band", {"amber globe": 40, "band": 40}),
    )
