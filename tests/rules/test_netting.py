"""Bills and netting: nothing is lost between gross and net, and every component is rounded once."""

from __future__ import annotations

import itertools
from collections.abc import Mapping

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.netting import NeedPerThousand, find_loop, low_level_codes, net, used_by

LANTERN = {
    "lantern": [
        NeedPerThousand("globe", 1000),
        NeedPerThousand("printed band", 1000),
        NeedPerThousand("foot", 1000),
        NeedPerThousand("carton", 1000),
    ],
    "printed band": [NeedPerThousand("plain band", 1000), NeedPerThousand("ink", 250)],
    "globe": [NeedPerThousand("resin", 148_000), NeedPerThousand("insert", 1000)],
    "plain band": [NeedPerThousand("compound", 31_500)],
    "foot": [NeedPerThousand("compound", 22_000)],
}
Pieces = dict[str, int]
NAMES = [f"part {n}" for n in range(8)]


@st.composite
def sound_bills(draw: st.DrawFn) -> dict[str, list[NeedPerThousand]]:
    """Bills whose components all have a later name than the part itself: no loop is possible."""
    bills: dict[str, list[NeedPerThousand]] = {}
    for index, name in enumerate(NAMES[:-1]):
        components = draw(st.lists(st.sampled_from(NAMES[index + 1 :]), max_size=3))
        if components:
            bills[name] = [NeedPerThousand(component, draw(st.integers(1, 5000))) for component in components]
    return bills


quantities = st.dictionaries(st.sampled_from(NAMES), st.integers(0, 500))


def as_wanted(part: str, good: int) -> int:
    return good


def a_tenth_more(part: str, good: int) -> int:
    return -(-good * 11 // 10)


@given(sound_bills())
def test_sound_bills_have_no_loop_and_every_user_stands_above_what_it_uses(
    bills: dict[str, list[NeedPerThousand]],
) -> None:
    assert find_loop(bills) is None
    levels = low_level_codes(bills)
    for parent, needs in bills.items():
        for need in needs:
            assert levels[need.component] > levels[parent]
    for part, level in levels.items():
        users = [levels[p] for p, needs in bills.items() if part in {n.component for n in needs}]
        assert level == max(users, default=-1) + 1


@given(sound_bills(), st.integers(0, 6), st.integers(0, 6))
def test_a_loop_is_spelled_out_link_by_link(bills: dict[str, list[NeedPerThousand]], one: int, other: int) -> None:
    bills.setdefault(NAMES[min(one, other)], []).append(NeedPerThousand(NAMES[max(one, other)], 1000))
    bills.setdefault(NAMES[max(one, other)], []).append(NeedPerThousand(NAMES[min(one, other)], 1000))
    loop = find_loop(bills)
    assert loop is not None
    assert loop[0] == loop[-1]
    assert len(set(loop)) == len(loop) - 1
    for parent, component in itertools.pairwise(loop):
        assert component in {need.component for need in bills[parent]}
    with pytest.raises(ValueError, match=f"{loop[0]} > "):
        low_level_codes(bills)


def test_a_part_in_its_own_bill_and_a_longer_loop_are_named() -> None:
    assert find_loop({"band": [NeedPerThousand("band", 1000)]}) == ("band", "band")
    loop = {
        "lantern": [NeedPerThousand("band", 1)],
        "band": [NeedPerThousand("core", 1)],
        "core": [NeedPerThousand("foil", 1), NeedPerThousand("band", 1)],
    }
    assert find_loop(loop) == ("band", "core", "band")


def test_bills_of_a_thousand_levels_do_not_exhaust_the_stack() -> None:
    deep = {f"level {n}": [NeedPerThousand(f"level {n + 1}", 1000)] for n in range(1000)}
    assert find_loop(deep) is None
    assert net({"level 0": 3}, deep, {}, {}, as_wanted)["level 1000"].gross == 3


def test_shared_components_are_exploded_from_what_their_parents_start() -> None:
    needs = net({"lantern": 100}, LANTERN, {"globe": 30}, {"foot": 20}, a_tenth_more)
    assert needs["lantern"].start == 110
    assert (needs["globe"].gross, needs["globe"].from_free, needs["globe"].to_make_or_buy) == (110, 30, 80)
    assert needs["globe"].start == 88
    assert needs["insert"].gross == 88
    assert needs["resin"].gross == 88 * 148
    assert needs["foot"].start == 99
    assert needs["plain band"].gross == 121
    # Compound: 134 plain bands of 31.5 g and 99 feet of 22 g.
    assert needs["compound"].gross == 4221 + 2178


def test_a_quantity_per_thousand_is_rounded_once_upward_at_the_total() -> None:
    assert used_by(121, [NeedPerThousand("ink", 250)]) == {"ink": 31}
    assert used_by(3, [NeedPerThousand("ink", 100), NeedPerThousand("ink", 150)]) == {"ink": 1}
    assert used_by(0, [NeedPerThousand("ink", 100)]) == {"ink": 0}


def test_free_stock_goes_before_what_is_under_way_and_a_negative_balance_counts_as_none() -> None:
    need = net({"carton": 10}, {}, {"carton": 4}, {"carton": 100}, as_wanted)["carton"]
    assert (need.from_free, need.from_under_way, need.to_make_or_buy, need.start) == (4, 6, 0, 0)
    short = net({"carton": 10}, {}, {"carton": -4}, {"carton": -1}, as_wanted)["carton"]
    assert (short.from_free, short.from_under_way, short.to_make_or_buy) == (0, 0, 10)


def test_a_part_on_the_shelf_needs_no_components() -> None:
    assert set(net({"printed band": 5}, LANTERN, {"printed band": 5}, {}, as_wanted)) == {"printed band"}


def test_demand_for_a_component_itself_is_added_to_what_its_parents_need() -> None:
    needs = net({"lantern": 10, "plain band": 7}, LANTERN, {}, {}, as_wanted)
    assert needs["plain band"].gross == 17


def test_starting_fewer_than_are_needed_is_a_fault() -> None:
    with pytest.raises(ValueError, match="cannot give"):
        net({"foot": 10}, LANTERN, {}, {}, lambda part, good: good - 1)


@given(quantities, sound_bills(), quantities, quantities)
def test_gross_is_always_free_and_under_way_and_the_rest(
    demand: Pieces, bills: Mapping[str, list[NeedPerThousand]], free: Pieces, under_way: Pieces
) -> None:
    needs = net(demand, bills, free, under_way, a_tenth_more)
    started: Pieces = {part: need.start for part, need in needs.items()}
    for part, need in needs.items():
        assert need.gross == need.from_free + need.from_under_way + need.to_make_or_buy > 0
        assert 0 <= need.from_free <= free.get(part, 0)
        assert 0 <= need.from_under_way <= under_way.get(part, 0)
        assert need.to_make_or_buy == 0 or need.from_free == free.get(part, 0)
        from_parents = sum(used_by(started.get(p, 0), lines).get(part, 0) for p, lines in bills.items())
        assert need.gross == demand.get(part, 0) + from_parents
    assert {part for part, quantity in demand.items() if quantity} <= set(needs)


@given(quantities, sound_bills(), quantities)
def test_more_free_stock_never_makes_more_to_buy(
    demand: Pieces, bills: Mapping[str, list[NeedPerThousand]], free: Pieces
) -> None:
    without = net(demand, bills, {}, {}, a_tenth_more)
    for part, need in net(demand, bills, free, {}, a_tenth_more).items():
        assert need.to_make_or_buy <= without[part].to_make_or_buy


@given(quantities, sound_bills())
def test_an_explosion_lists_users_before_what_they_use(
    demand: Pieces, bills: Mapping[str, list[NeedPerThousand]]
) -> None:
    order = list(net(demand, bills, {}, {}, as_wanted))
    for parent in order:
        for need in bills.get(parent, ()):
            assert order.index(parent) < order.index(need.component)
