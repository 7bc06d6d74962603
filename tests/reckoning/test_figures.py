"""Does a text tell a figure? With its unit, in the reader's zone, and in no more words than it has."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.reckoning.figures import Amount, Day, Expected, Lapse, Moment, Words, says, tokens

NEW_YORK = ZoneInfo("America/New_York")
NOON = datetime(2026, 11, 27, 17, 5, tzinfo=UTC)
TODAY = date(2026, 11, 30)


@pytest.mark.parametrize(
    ("shown", "expected", "so"),
    [
        ("1,060", 1060, True),
        ("Three", 3, True),
        ("106", 1060, False),
        ("10,60", 1060, False),
        ("12.364 kg", Amount(12364, "GRM"), True),
        ("553 g", Amount(553, "GRM"), True),
        ("553", Amount(553, "GRM"), False),
        ("12.364 g", Amount(12364, "GRM"), False),
        ("9 kg", Amount(9, "C62"), False),
        ("", None, True),
        ("0", None, False),
        ("Fri 27 Nov", Day(date(2026, 11, 27), TODAY), True),
        ("Fri 27 Nov", Day(date(2027, 11, 27), TODAY), False),
        ("13 Oct 2027", Day(date(2027, 10, 13), TODAY), True),
        ("Fri 27 Nov, 12:05", Moment(NOON, NEW_YORK), True),
        ("Fri 27 Nov, 17:05", Moment(NOON, NEW_YORK), False),
        ("31 hours", Lapse(timedelta(hours=31, minutes=59)), True),
        ("2 days", Lapse(timedelta(hours=31)), False),
        ("60 Held", Words(r"(?P<n>\S+) Held", (("n", 60),)), True),
        ("60", Words(r"(?P<n>\S+) Held", (("n", 60),)), False),
    ],
)
def test_a_text_tells_its_figure_or_it_does_not(shown: str, expected: Expected, so: bool) -> None:
    assert says(shown, expected) is so


def test_every_figure_of_a_text_is_seen_and_no_code_is_one() -> None:
    assert [one[0] for one in tokens("Two of 1,060 for 7K2-P69-4 by 9.5 kg")] == ["Two", "1,060", "9.5"]
