"""The bench's floor draws what a traveller draws: else its ratio would mean nothing."""

from __future__ import annotations

from tests.paper.bare import draw_bare, recorded
from tests.paper.papers import LONG_ROUTE
from tests.paper.reading import LASER_DPI, bars_on, pages, squares_on, texts
from traveller.paper.traveller import draw_traveller


def test_the_bare_canvas_draws_the_same_text_and_the_same_codes() -> None:
    ours = draw_traveller(LONG_ROUTE, size="A4")
    bare = draw_bare(recorded(LONG_ROUTE, "A4"), "A4")
    assert [sorted(page.split()) for page in texts(bare)] == [sorted(page.split()) for page in texts(ours)]
    for mine, floor in zip(pages(ours, LASER_DPI), pages(bare, LASER_DPI), strict=True):
        assert bars_on(floor) == bars_on(mine)
        assert squares_on(floor) == squares_on(mine)
