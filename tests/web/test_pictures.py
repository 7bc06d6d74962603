"""The drawings: well formed, true to quantity, labels apart, nothing outside the sheet, nothing unescaped."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from itertools import combinations, pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.web import gallery
from traveller.web.pictures import kit_rule, line_graph, line_layout, marks, ribbon
from traveller.web.pictures.ink import Text, clean, fit_text, hatches, num, overlap, text_width
from traveller.web.pictures.line_data import LineEvent, LineGraph, Point, Silence, Trip

START = datetime(2026, 3, 20, 6, 30, tzinfo=UTC)
WIDTHS = st.sampled_from([340.0, 720.0, 1120.0])
NAMES = st.text(min_size=1, max_size=40)
PIECES = st.integers(0, 100_000)
NASTY = '<script>&"\x00\x1b'


def no_label_lies_on_another(texts: Sequence[Text], width: float, height: float) -> None:
    """Hold every label inside the sheet and apart from every other."""
    shown = [text for text in texts if text.words.strip()]
    for text in shown:
        left, top, right, bottom = text.box
        assert left >= 0 and top >= 0 and right <= width + 0.01 and bottom <= height + 0.01, text
    for a, b in combinations(shown, 2):
        assert not overlap(a.box, b.box), (a, b)


def moments() -> st.SearchStrategy[datetime]:
    """Give moments within some weeks, across a change to summer time elsewhere."""
    return st.integers(0, 40 * 24).map(lambda h: START + timedelta(hours=h))


@st.composite
def trips(draw: st.DrawFn, number: int) -> Trip:
    """Give a trip over four sites with scrap, holds and silences wherever they fall."""
    times = sorted(draw(st.lists(moments(), min_size=1, max_size=6)))
    sites = [draw(st.integers(0, 3)) for _ in times]
    points = tuple(Point(t, s, draw(PIECES)) for t, s in zip(times, sites, strict=True))
    cut = draw(st.integers(0, len(points)))
    events = st.lists(st.builds(LineEvent, st.sampled_from(times), st.integers(0, 3), NAMES), max_size=3).map(tuple)
    gaps = [(START, START)] if len(times) < 2 else list(pairwise(times))
    return Trip(
        f"t{number}", draw(NAMES), points[:cut], forecast=points[cut:], scraps=draw(events), holds=draw(events),
        silences=tuple(Silence(*gap) for gap in draw(st.lists(st.sampled_from(gaps), max_size=2))),
        branch_of=draw(st.sampled_from([None, "t0", "gone"])), joins=draw(st.sampled_from([None, "t1"])),
        ended=draw(st.booleans()), short=draw(st.sampled_from(["", "T"])),
    )  # fmt: skip


@st.composite
def graphs(draw: st.DrawFn) -> LineGraph:
    """Give line graphs of up to six trips."""
    several = tuple(draw(trips(n)) for n in range(draw(st.integers(0, 6))))
    promise = draw(st.none() | moments())
    sites = tuple(draw(NAMES) for _ in range(4))
    return LineGraph(sites, several, draw(moments()), "One sentence.", promise, heard=("26 hours ago",) * 3)


def test_of_many_trips_the_nine_largest_are_drawn() -> None:
    later = START + timedelta(days=5)
    several = tuple(
        Trip(f"t{n}", f"Lot{n}", (Point(START, n % 4, 100 + n), Point(later, n % 4, 100 + n))) for n in range(12)
    )
    drawn = line_graph.line_graph(LineGraph(("A", "B", "C", "D"), several, later, "All of them."))
    assert [n for n in range(12) if f"Lot{n}<" in drawn] == list(range(3, 12))


@given(graphs(), WIDTHS)
def test_no_label_of_a_line_graph_lies_on_another(graph: LineGraph, width: float) -> None:
    plan = line_layout.lay_out(graph, width)
    line_graph._days(plan)  # adds the days' names
    no_label_lies_on_another(plan.texts, plan.width, plan.height)
    ElementTree.fromstring(line_graph.line_graph(graph, width))


@st.composite
def rules(draw: st.DrawFn) -> kit_rule.KitRule:
    """Give kit rules of up to six components."""
    part = st.tuples(st.sampled_from(kit_rule.ORDER), PIECES)
    one = st.builds(
        kit_rule.Bar, NAMES, st.lists(part, max_size=5, unique_by=lambda p: p[0]).map(tuple),
        st.integers(1, 12), st.sampled_from(["", "limits"]),
    )  # fmt: skip
    bars = tuple(draw(st.lists(one, max_size=6)))
    return kit_rule.KitRule(bars, draw(PIECES), "One sentence.", draw(st.none() | PIECES))


@given(rules(), WIDTHS)
def test_no_label_of_a_kit_rule_lies_on_another(rule: kit_rule.KitRule, width: float) -> None:
    plan = kit_rule.lay_out(rule, width)
    no_label_lies_on_another(plan.texts, plan.width, plan.height)
    ElementTree.fromstring(kit_rule.kit_rule(rule, width))


@given(rules(), WIDTHS)
def test_whole_bars_are_as_long_as_their_kits(rule: kit_rule.KitRule, width: float) -> None:
    plan = kit_rule.lay_out(rule, width)
    torn = {y for _, y in plan.torn}
    for length in plan.lengths:
        if not length.key and length.y not in torn:
            assert length.width == pytest.approx(length.kits * plan.per_kit_px)


@given(st.lists(st.tuples(NAMES, PIECES, PIECES, PIECES), max_size=9), WIDTHS)
def test_ribbons_are_as_thick_as_their_pieces_and_their_labels_stay_apart(
    rows: list[tuple[str, int, int, int]], width: float
) -> None:
    steps = tuple(ribbon.RibbonStep(n, g + s + h, g, (("scrap", s), ("here", h))) for n, g, s, h in rows)
    plan = ribbon.lay_out(ribbon.Ribbon(steps, "One sentence."), width)
    no_label_lies_on_another(plan.texts, plan.width, plan.height)
    most = max((band.pieces for band in plan.bands), default=0)
    for band in plan.bands:
        assert band.thick == pytest.approx(ribbon.DEEP * band.pieces / most if most else 0)


def test_the_kit_rule_ends_where_the_shortest_solid_bar_ends() -> None:
    plan = kit_rule.lay_out(gallery.rule())
    solid = [length for length in plan.lengths if length.kind == "here" and not length.key]
    assert plan.rule_x == pytest.approx(min(s.x + s.width for s in solid))


def test_a_component_in_plenty_is_torn_off_instead_of_squeezing_the_others() -> None:
    plan = kit_rule.lay_out(gallery.rule())
    assert len(plan.torn) == 1
    assert max(length.kits for length in plan.lengths) == 4500


def test_a_line_is_as_thick_as_its_good_pieces() -> None:
    plan = line_layout.lay_out(gallery.graph())
    first, last = line_graph.strokes(plan, 0)[0], line_graph.strokes(plan, 0)[-1]
    assert first.thick / last.thick == pytest.approx(1088 / 1006)


def test_a_level_line_stays_and_a_steep_one_travels() -> None:
    plan = line_layout.lay_out(gallery.graph())
    feet = line_graph.strokes(plan, 3)
    assert [stroke.y1 == stroke.y2 for stroke in feet] == [True, False, True]


def test_silence_is_a_gap_from_the_last_news_on() -> None:
    plan = line_layout.lay_out(gallery.graph())
    silent = [stroke for stroke in line_graph.strokes(plan, 1) if stroke.silent]
    assert [(s.x1, s.x2) for s in silent] == [(plan.x(gallery.day(14.3)), plan.x(gallery.NOW))]


def test_forecast_begins_where_news_ends() -> None:
    plan = line_layout.lay_out(gallery.graph())
    reported = [stroke.forecast for stroke in line_graph.strokes(plan, 1)]
    assert reported == sorted(reported) and plan.x(gallery.NOW) in [
        s.x1 for s in line_graph.strokes(plan, 1) if s.forecast
    ]


def test_a_part_sent_ahead_leaves_from_its_own_batch_line() -> None:
    plan = line_layout.lay_out(gallery.graph())
    bands_at_printer = plan.stay_at(1, 2, gallery.day(13.6))
    assert bands_at_printer is not None
    assert line_graph.strokes(plan, 2)[0].y1 == bands_at_printer.y


def test_every_word_is_escaped_and_what_xml_cannot_carry_is_left_out() -> None:
    point = Point(START, 0, 5)
    graph = LineGraph((NASTY,), (Trip("t", NASTY, (point,), holds=(LineEvent(START, 0, NASTY),)),), START, NASTY)
    rule = kit_rule.KitRule((kit_rule.Bar(NASTY, (("here", 5),), note=NASTY),), 5, NASTY)
    flow = ribbon.Ribbon((ribbon.RibbonStep(NASTY, 5, 5),), NASTY)
    for svg in (line_graph.line_graph(graph), kit_rule.kit_rule(rule), ribbon.yield_ribbon(flow)):
        root = ElementTree.fromstring(svg)
        assert "<script" not in svg and root.get("aria-label") == clean(NASTY) and root.get("role") == "img"


def test_no_drawing_carries_a_style_that_the_content_security_policy_would_refuse() -> None:
    drawn = [line_graph.line_graph(gallery.graph()), kit_rule.kit_rule(gallery.rule())]
    drawn += [ribbon.yield_ribbon(gallery.ribbon()), *(marks.mark_svg(kind) for kind in marks._SHAPES)]
    assert not [svg for svg in drawn if "style" in svg]


def test_patterns_of_two_drawings_on_one_page_are_told_apart() -> None:
    assert 'id="a-held"' in hatches("a", ["held"]) and 'id="b-held"' in hatches("b", ["held"])


def test_closed_days_are_shaded_by_the_zone_they_are_closed_in() -> None:
    graph = gallery.graph()
    plan = line_layout.lay_out(graph)
    shade = ElementTree.fromstring(line_graph._closed(plan)[0])
    assert float(shade.get("x", "")) == pytest.approx(plan.x(datetime(2026, 11, 14, tzinfo=UTC)), abs=0.1)
    assert date(2026, 11, 14) in graph.closed


@given(st.text(max_size=60), st.floats(0, 400))
def test_words_cut_to_a_room_fit_the_room(words: str, room: float) -> None:
    assert text_width(fit_text(words, room)) <= room


@given(st.floats(-2000, 2000))
def test_coordinates_lose_less_than_a_tenth_of_a_pixel(value: float) -> None:
    assert abs(float(num(value)) - value) <= 0.0501
