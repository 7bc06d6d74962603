"""Days in words: one of another year says so."""

from __future__ import annotations

from datetime import date

import pytest

from traveller.web.founder.orders.order_reads import day

TODAY = date(2027, 1, 4)


@pytest.mark.parametrize(
    ("value", "words"),
    [(date(2027, 1, 8), "Fri 8 Jan"), (date(2026, 11, 27), "Fri 27 Nov 2026"), (None, "–")],
)
def test_a_day_of_another_year_has_its_year(value: date | None, words: str) -> None:
    assert day(value, TODAY) == words
