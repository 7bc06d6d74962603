"""The control chart: well formed, true to value, labels apart, rules marked where they are broken."""

from __future__ import annotations

from itertools import combinations
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from traveller.rules.charts import individuals
from traveller.web.pictures.control_chart import ControlChart, control_chart, lay_out
from traveller.web.pictures.ink import overlap

WIDTHS = st.sampled_from([340.0, 1120.0])
NAMESPACE = "{http://www.w3.org/2000/svg}"


@st.composite
def charts(draw: st.DrawFn) -> ControlChart:
    """Give charts of a rule book's own making, some with the drawing's limits."""
    values = draw(st.lists(st.floats(-1000, 1000, width=32), min_size=2, max_size=80))
    first, _ = individuals(values)
    broken = draw(st.dictionaries(st.integers(1, len(values)), st.just((1, 5)), max_size=8))
    end = st.none() | st.floats(-1500, 1500, width=32)
    return ControlChart(
        first.values, first.centre, first.lower, first.upper, tuple(sorted(broken.items())), "One sentence.",
        draw(end), draw(end),
    )  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(charts(), WIDTHS)
def test_no_label_lies_on_another_or_outside(chart: ControlChart, width: float) -> None:
    plan = lay_out(chart, width)
    for text in plan.texts:
        left, top, right, bottom = text.box
        assert left >= 0 and top >= 0 and right <= width and bottom <= plan.height, text
    for a, b in combinations(plan.texts, 2):
        assert not overlap(a.box, b.box), (a, b)


@settings(max_examples=40, deadline=None)
@given(charts(), WIDTHS)
def test_every_point_is_drawn_at_its_height_and_every_broken_rule_has_its_square(
    chart: ControlChart, width: float
) -> None:
    plan = lay_out(chart, width)
    tree = ElementTree.fromstring(control_chart(chart, width))
    dots = tree.findall(f"{NAMESPACE}circle")
    assert len(dots) == len(chart.values)
    for place, dot in enumerate(dots):
        assert float(dot.attrib["cy"]) == pytest.approx(plan.y(chart.values[place]), abs=0.06)
    assert len(tree.findall(f"{NAMESPACE}rect")) == len(chart.broken)
    assert tree.attrib["aria-label"] == "One sentence."


def test_a_higher_value_lies_higher_and_limits_stand_between_their_points() -> None:
    chart = ControlChart((1.0, 2.0), 1.5, (0.0, 0.5), (3.0, 2.5), (), "s", least=-1.0, most=4.0)
    plan = lay_out(chart, 1120)
    assert plan.y(4.0) < plan.y(2.0) < plan.y(1.0) < plan.y(-1.0)
    assert plan.x(0) < plan.x(1)
    words = " ".join(text.words for text in plan.texts)
    for said in ("centre 1.5", "upper limit 2.5", "lower limit 0.5", "most allowed 4", "least allowed -1"):
        assert said in words


def test_equal_values_are_a_level_line() -> None:
    first, _ = individuals([5.0] * 5)
    chart = ControlChart(first.values, first.centre, first.lower, first.upper, (), "s")
    ElementTree.fromstring(control_chart(chart))


def test_no_style_and_nothing_unescaped_is_written() -> None:
    svg = control_chart(ControlChart((1.0, 2.0), 1.5, (0.0, 0.0), (3.0, 3.0), ((1, (1,)),), '<script>&"'))
    assert "style=" not in svg and "<script>" not in svg
