"""Shop hours as people write them."""

from __future__ import annotations

from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.rules.shifts import Shift, ShiftError, Shifts, parse_shifts

MORNING: Shift = (time(8), time(12))
AFTERNOON: Shift = (time(13), time(16, 30))
DAY: Shift = (time(8), time(16, 30))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Mo-Fr 08:00-16:30, Sa 08:00-12:00", {**dict.fromkeys(range(5), (DAY,)), 5: (MORNING,)}),
        ("mon-fri 8.00 – 16.30", dict.fromkeys(range(5), (DAY,))),
        ("Mo 13:00-16:30 08:00-12:00", {0: (MORNING, AFTERNOON)}),
        ("Mo 08:00-12:00, 13:00-16:30; We 08:00-16:30", {0: (MORNING, AFTERNOON), 2: (DAY,)}),
        ("Mo, We, Fr 08:00-12:00", dict.fromkeys((0, 2, 4), (MORNING,))),
        ("Sa-Mo 08:00-12:00", dict.fromkeys((0, 5, 6), (MORNING,))),
        ("Mo-Th 22:00-06:00", dict.fromkeys(range(4), ((time(22), time(6)),))),
        ("Mo-Su 00:00-24:00", dict.fromkeys(range(7), ((time(0), time(0)),))),
        ("Tuesday 08:00-12:00,", {1: (MORNING,)}),
    ],
)
def test_hours_are_read_as_people_write_them(text: str, expected: Shifts) -> None:
    assert parse_shifts(text) == expected


@pytest.mark.parametrize(
    ("text", "why", "part"),
    [
        ("", "empty", ""),
        (" , ", "empty", ","),
        ("Xx 08:00-12:00", "form", "Xx 08:00-12:00"),
        ("08:00-12:00", "form", "08:00-12:00"),
        ("Mo 8-12-14", "form", "Mo 8-12-14"),
        ("Mo 8-12", "time", "8-12"),
        ("Mo 08:00-25:00", "time", "08:00-25:00"),
        ("Mo 08:60-12:00", "time", "08:60-12:00"),
        ("Mo 24:00-08:00", "time", "24:00-08:00"),
        ("Mo-Fr", "no_times", "Mo-Fr"),
        ("Mo 08:00-12:00 11:00-13:00", "overlap", "Mo 11:00-13:00"),
        ("Mo-Tu 22:00-06:00, Tu 05:00-07:00", "overlap", "Tu 05:00-07:00"),
        ("Su 22:00-06:00, Mo 05:00-07:00", "overlap", "Mo 05:00-07:00"),
        ("Mo 08:00-08:00, Tu 07:00-09:00", "overlap", "Tu 07:00-09:00"),
        ("Mo 08:00-12:00, Mo 08:00-12:00", "overlap", "Mo 08:00-12:00"),
    ],
)
def test_hours_that_make_no_sense_are_refused_with_the_part_at_fault(text: str, why: str, part: str) -> None:
    error = parse_shifts(text)
    assert isinstance(error, ShiftError)
    assert (error.why, error.part) == (why, part)


@given(st.text(alphabet="MoTuWe-Fr 08:0,;2436", max_size=30))
def test_any_text_is_read_or_refused_but_never_raises(text: str) -> None:
    found = parse_shifts(text)
    assert isinstance(found, ShiftError) or found
