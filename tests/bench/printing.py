"""Travellers against a bare canvas that draws the same text and the same ready-made modules."""

from __future__ import annotations

from collections.abc import Callable

from tests.bench.figures import Figure, Size, in_turns
from tests.paper.bare import draw_bare, recorded
from tests.paper.papers import LONG_ROUTE
from traveller.paper.traveller import draw_traveller

ROUNDS: dict[Size, int] = {"tiny": 1, "quick": 9, "full": 31}


def measure(size: Size) -> list[Figure]:
    drawn = recorded(LONG_ROUTE, "A4")
    ours: Callable[[], object] = lambda: draw_traveller(LONG_ROUTE, size="A4")  # noqa: E731
    bare: Callable[[], object] = lambda: draw_bare(drawn, "A4")  # noqa: E731
    ours(), bare()  # fonts are read at the first
    rounds = in_turns(ROUNDS[size], lambda turn: [ours], lambda turn: [bare])
    pages = len(drawn)
    notes = f"{pages} pages a run: {rounds.reported()}"
    return [
        Figure(
            "travellers, share of a bare canvas's pages (CPU)", rounds.rate_ratio(cpu=True), "at least", 0.5, "", notes
        )
    ]
