"""The words that pages hand to drawings are those that drawings have by themselves, until they are translated."""

from __future__ import annotations

from datetime import date

from traveller.web import picture_words
from traveller.web.pictures import kit_rule, line_data, ribbon


def test_in_english_a_drawing_says_the_same_with_and_without_the_page() -> None:
    for given, own in (
        (picture_words.kit_words(), kit_rule.Words()),
        (picture_words.ribbon_words(), ribbon.Words()),
        (picture_words.line_words(), line_data.Words()),
    ):
        names = [name for name in vars(own) if isinstance(getattr(own, name), str)]
        assert {n: getattr(given, n) for n in names} == {n: getattr(own, n) for n in names}


def test_numbers_and_days_are_written_as_on_the_page() -> None:
    assert picture_words.kit_words().number(1006) == "1,006"
    assert (
        picture_words.line_words().day(date(2026, 11, 27)) == "Fri 27 Nov" == line_data.Words().day(date(2026, 11, 27))
    )
