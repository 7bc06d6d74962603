"""A shop's hours as people say them."""

from __future__ import annotations

import pytest

from traveller.web.shift_words import shifts_words

_TWICE = "08:00 to 12:00 and 13:00 to 16:00"


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("Mo-Fr 08:00-16:30", "Mon to Fri 08:00 to 16:30"),
        ("Mo-Fr 08:00-17:00, Sa 08:00-13:00", "Mon to Fri 08:00 to 17:00, Sat 08:00 to 13:00"),
        (
            "Mo, We 08:00-12:00, 13:00-16:00",
            "Mon 08:00 to 12:00 and 13:00 to 16:00, Wed 08:00 to 12:00 and 13:00 to 16:00",
        ),
        ("Sa-Su 06:00-14:00", "Sat and Sun 06:00 to 14:00"),
        ("Mo-We 22:00-06:00", "Mon to Wed 22:00 to 06:00"),
        # What cannot be read is shown as it stands.
        ("when the tide is in", "when the tide is in"),
    ],
)
def test_hours_in_words(typed: str, words: str) -> None:
    assert shifts_words(typed) == words
