"""Figures and days that nobody misreads."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

from traveller.paper import words


def test_figures_carry_thousands_marks() -> None:
    assert words.figure(1_234_567) == "1,234,567"
    assert words.quantity_on_paper(1_088, "pieces") == "1,088 pieces"
    assert words.quantity_on_paper(Decimal("1250.5"), "kg") == "1,250.5 kg"


def test_one_of_a_thing_is_not_many() -> None:
    assert words.quantity_on_paper(1, "pieces") == "1 piece"
    assert words.quantity_on_paper(1, "totes") == "1 tote"
    assert words.quantity_on_paper(1, "gross") == "1 gross"


def test_the_month_is_a_word() -> None:
    assert words.day_on_paper(date(2026, 11, 7)) == "7 November 2026"
    assert words.clock_on_paper(datetime(2026, 3, 4, 9, 5, tzinfo=UTC)) == "09:05"


def test_a_list_ends_with_and() -> None:
    assert words.listed(()) == ""
    assert words.listed(("1042",)) == "1042"
    assert words.listed(("1042", "1047", "1050")) == "1042, 1047 and 1050"
