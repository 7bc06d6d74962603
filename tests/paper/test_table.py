"""Which row goes on which page."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from traveller.paper.table import share_widths

heights = st.lists(st.floats(1, 100), max_size=30)


@given(heights)
def test_no_row_is_lost_or_broken_and_no_page_overfull(rows: list[float]) -> None:
    pages = share_widths(rows, first=120, later=200, foot=50)
    assert [index for page in pages for index in page] == list(range(len(rows)))
    for number, page in enumerate(pages):
        assert sum(rows[index] for index in page) <= (200 if number else 120) + 1e-9
    last = sum(rows[index] for index in pages[-1])
    assert last + 50 <= (200 if len(pages) > 1 else 120) + 1e-9


def test_a_foot_that_does_not_fit_takes_a_page_of_its_own() -> None:
    assert share_widths([40.0, 40.0], first=100, later=150, foot=30) == [[0, 1], []]
    assert share_widths([40.0, 30.0], first=100, later=150, foot=30) == [[0, 1]]
