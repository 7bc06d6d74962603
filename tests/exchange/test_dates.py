"""Dates as people write them; forms from ISO 8601 and common practice, no further source."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.exchange.books import cell_date
from traveller.exchange.workbook.dates import to_date
from traveller.exchange.workbook.numbers import BadCell
from traveller.exchange.workbook.raw import Raw

CHRISTMAS_EVE = dt.date(2026, 12, 24)


@pytest.mark.parametrize(
    "cell",
    [
        "2026-12-24",
        "2026-12-24 00:00:00",
        "24.12.2026",
        "24. 12. 2026",
        "24/12/2026",
        "12/24/2026",
        "24 Dec 2026",
        "24 December 2026",
        "24-Dec-2026",
        cell_date(2026, 12, 24),
        dt.date(2026, 12, 24),
    ],
)
def test_a_day_that_reads_one_way_is_taken(cell: Raw) -> None:
    assert to_date(cell) == CHRISTMAS_EVE


def test_a_day_and_month_alike_read_one_way() -> None:
    assert to_date("04/04/2026") == dt.date(2026, 4, 4)


@pytest.mark.parametrize(
    ("cell", "wrong"),
    [
        ("03/04/2026", "can be read as 4 Mar 2026 or as 3 Apr 2026"),
        ("03-04-2026", "can be read as 4 Mar 2026 or as 3 Apr 2026"),
        ("24.12.26", "is not a date"),
        ("2026-02-30", "is a day that no calendar has"),
        ("31/31/2026", "is a day that no calendar has"),
        ("next week", "is not a date"),
        (46000.0, "is a plain number, not a date"),
        (46000, "is a plain number, not a date"),
        (True, "is not a date"),
        (cell_date(2026, 1, 5, 14, 30), "holds a time of day as well"),
        (dt.time(8, 0), "is not a date"),
        ("1826-01-05", "lies too far from today"),
        ("20260-01-05", "is not a date"),
    ],
)
def test_any_other_day_is_refused_in_words(cell: Raw, wrong: str) -> None:
    with pytest.raises(BadCell) as bad:
        to_date(cell)
    assert bad.value.wrong == wrong
    assert "-" in bad.value.right or bad.value.right == "write the day alone"


@given(st.dates(dt.date(2000, 1, 1), dt.date(2199, 12, 31)))
def test_every_day_is_read_from_iso_and_with_dots(day: dt.date) -> None:
    assert to_date(day.isoformat()) == to_date(f"{day.day}.{day.month}.{day.year}") == day
