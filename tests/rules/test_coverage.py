"""Cover what is wanted from what there is: nothing given twice, promises first, nothing kept from a line in need."""

from __future__ import annotations

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.coverage import Supply, cover

LINES = st.integers(1, 4)
QUANTITIES = st.integers(0, 30)
NEEDS = st.dictionaries(LINES, QUANTITIES, max_size=4)
PILES = st.lists(st.tuples(st.sampled_from(["here", "coming", "unborn"]), QUANTITIES), max_size=3)
SUPPLIES = st.lists(st.tuples(PILES, st.dictionaries(LINES, QUANTITIES, max_size=4)), max_size=4)


def _supplies(drawn: list[tuple[list[tuple[str, int]], dict[int, int]]]) -> list[Supply[str]]:
    return [Supply(key, pieces, promised) for key, (pieces, promised) in enumerate(drawn)]


@given(NEEDS, SUPPLIES.map(_supplies))
def test_what_is_given_and_what_is_short_make_up_every_need(needs: dict[int, int], supplies: list[Supply[str]]) -> None:
    covered = cover(needs, supplies)
    got: Counter[int] = Counter()
    for row in covered.given:
        got[row.line] += row.quantity
    assert {line: got[line] + covered.short.get(line, 0) for line in needs} == needs
    assert all(rest > 0 for rest in covered.short.values())


@given(NEEDS, SUPPLIES.map(_supplies))
def test_no_piece_is_given_twice_and_none_is_left_while_a_line_lacks_it(
    needs: dict[int, int], supplies: list[Supply[str]]
) -> None:
    covered = cover(needs, supplies)
    used: Counter[tuple[int, str]] = Counter()
    for row in covered.given:
        assert row.quantity > 0
        used[row.supply, row.stage] += row.quantity
    there: Counter[tuple[int, str]] = Counter()
    for supply in supplies:
        for stage, quantity in supply.pieces:
            there[supply.key, stage] += quantity
    assert all(used[key] <= there[key] for key in used)
    assert used.total() == min(sum(needs.values()), there.total())


@given(NEEDS, SUPPLIES.map(_supplies))
def test_a_line_gets_what_is_promised_to_it_before_any_other(
    needs: dict[int, int], supplies: list[Supply[str]]
) -> None:
    """Where a supply has enough for all its promises, a line that lacks pieces has had its whole promise of it."""
    covered = cover(needs, supplies)
    for supply in supplies:
        if sum(quantity for _stage, quantity in supply.pieces) < sum(supply.promised.values()):
            continue
        for line in covered.short:
            had = sum(row.quantity for row in covered.given if row.line == line and row.supply == supply.key)
            assert had >= supply.promised.get(line, 0)


def test_the_most_advanced_pieces_go_to_the_line_that_is_due_first() -> None:
    covered = cover({1: 5, 2: 5}, [Supply(9, [("here", 6), ("coming", 9)], {1: 5, 2: 5})])
    assert {(row.line, row.stage): row.quantity for row in covered.given} == {
        (1, "here"): 5, (2, "here"): 1, (2, "coming"): 4,
    }  # fmt: skip
    assert not covered.short
