"""The picture of a log: few points and every extreme, limits, what was reached, gaps as breaks, no label on another."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traveller.web.pictures.log_chart import LimitDrawn, LogChart, Moment, Span, log_chart, stretches, thinned


def chart(n: int = 240, **more: object) -> LogChart:
    """Two hours of a reading each 30 s: up to 150, a peak, down again."""
    seconds = [1_770_000_000.0 + 30 * k for k in range(n)]
    celsius = [min(25 + k * 2.0, 150.0) + (40.0 if k == 150 else 0.0) for k in range(n)]
    reported: dict[str, object] = {
        "limits": (LimitDrawn(148, "148 °C or more"), LimitDrawn(175, "never above 175 °C", never_above=True)),
        "moments": (Moment(seconds[20], "in 09:10"), Moment(seconds[-20], "out 10:40")),
        "verdict": "Load 1: 60 min unbroken at or above 148 °C.",
        "reached_words": "60 min at 148 °C or more",
        "reached": (Span(seconds[62], seconds[-20]),),
        **more,
    }
    return LogChart(seconds, celsius, "The log of load 1.", **reported)  # type: ignore[arg-type]


@given(st.lists(st.floats(-50, 400), min_size=1, max_size=5000))
def test_thinning_keeps_the_extremes_the_ends_and_the_order(values: list[float]) -> None:
    points = list(enumerate(map(float, values)))
    kept = thinned([(float(x), y) for x, y in points])
    assert len(kept) <= 650
    assert kept[0][1] == values[0] and kept[-1][1] == values[-1]
    assert min(y for _x, y in kept) == min(values) and max(y for _x, y in kept) == max(values)
    assert [x for x, _y in kept] == sorted({x for x, _y in kept})


def test_a_hundred_thousand_readings_become_a_small_picture_with_the_one_peak_in_it() -> None:
    drawn = log_chart(chart(100_000), 1120)
    assert len(drawn) < 40_000
    assert max(y for line in stretches(chart(100_000)) for _x, y in line) == 190.0


def test_the_line_breaks_at_a_gap_and_a_word_stands_there() -> None:
    seconds = [0.0, 60, 120, 2000, 2060]
    gappy = LogChart(seconds, [80.0, 81, 82, 83, 84], "s", gaps=(Span(120, 2000, "nothing read for 31 min"),))
    assert [len(line) for line in stretches(gappy)] == [3, 2]
    drawn = log_chart(gappy, 340)
    assert drawn.count('stroke-linejoin="round" d=') + drawn.count('fill="none" stroke="#1d3f72"') >= 2
    assert "nothing read for 31 min" in drawn


@pytest.mark.parametrize("width", [340, 720, 1120])
def test_it_is_well_formed_says_its_sentence_and_stays_inside(width: int) -> None:
    drawn = log_chart(chart(), width)
    root = ElementTree.fromstring(drawn)
    assert root.attrib["aria-label"] == "The log of load 1."
    assert "style=" not in drawn and "<script" not in drawn
    _x, _y, wide, tall = map(float, root.attrib["viewBox"].split())
    assert wide == width
    for text in root.iter("{http://www.w3.org/2000/svg}text"):
        assert 0 <= float(text.attrib["x"]) < width and 0 < float(text.attrib["y"]) <= tall


@pytest.mark.parametrize("width", [340, 1120])
def test_limits_and_moments_are_named_in_it(width: int) -> None:
    drawn = log_chart(chart(), width)
    for words in ("148 °C or more", "never above 175 °C", "in 09:10", "out 10:40", "60 min at 148 °C or more"):
        assert words in drawn, words
    assert re.search(r'fill="url\(#log-reached\)"', drawn)


@pytest.mark.long
def test_words_from_a_file_cannot_leave_their_element() -> None:
    drawn = log_chart(chart(verdict='</text><script>alert("x")</script>'), 340)
    assert "<script" not in drawn
    ElementTree.fromstring(drawn)


def test_a_log_of_one_temperature_is_drawn() -> None:
    flat = LogChart([0.0, 60.0], [80.0, 80.0], "flat")
    ElementTree.fromstring(log_chart(flat, 340))


def test_the_middle_is_dashed_named_and_within_the_scale() -> None:
    bare, middle = chart(), [(1_770_000_000.0 + 60 * n, 10.0 + n) for n in range(60)]
    drawn = log_chart(chart(middles=(middle,), middle_words="middle of a part, computed"))
    dashed = re.findall(r'stroke-dasharray="6 4"', drawn)
    assert len(dashed) == 2, "the line, and the swatch before its words"
    assert "middle of a part, computed" in drawn and "6 4" not in log_chart(bare)
    # It begins colder than anything that was logged: the scale reaches down to it.
    points = re.findall(r'd="M[\d.]+ ([\d.]+)L[^"]*"[^>]*stroke-dasharray="6 4"', drawn)
    frame = re.search(r'<rect x="44" y="([\d.]+)"', drawn)
    assert frame is not None and len(points) == 1
    assert float(frame[1]) < float(points[0]) < float(frame[1]) + 200
