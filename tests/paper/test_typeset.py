"""Text never runs out of its box, whatever its length or script."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from traveller.paper import typeset
from traveller.paper.fonts import drawable

names = st.text(alphabet="abcWÄßΩЖщ灯笼 -/.,0189·", max_size=160)
widths = st.floats(8, 190)
sizes = st.sampled_from([7.0, 9.5, 12.0, 20.0])


@settings(max_examples=150, deadline=None)
@given(names, sizes, widths)
def test_no_wrapped_line_is_wider_than_its_box_and_no_letter_is_lost(name: str, pt: float, width: float) -> None:
    lines = typeset.wrap(name, "bold", pt, width)
    assert all(typeset.width_mm(line, "bold", pt) <= width + 1e-6 for line in lines)
    assert "".join(lines).replace(" ", "") == drawable(name).replace(" ", "")


@settings(max_examples=150, deadline=None)
@given(names, sizes, widths, st.integers(1, 3))
def test_lines_past_the_last_are_told_by_an_ellipsis(name: str, pt: float, width: float, most: int) -> None:
    lines = typeset.wrap(name, "plain", pt, width, most)
    assert len(lines) <= most
    assert all(typeset.width_mm(line, "plain", pt) <= width + 1e-6 for line in lines)
    if len(typeset.wrap(name, "plain", pt, width)) > most:
        assert lines[-1].endswith(typeset.ELLIPSIS)


@settings(max_examples=150, deadline=None)
@given(names, sizes, widths)
def test_a_fitted_line_stays_inside_and_is_cut_only_at_the_least_size(name: str, pt: float, width: float) -> None:
    size, shown = typeset.fit(name, "plain", pt, width, 6.5)
    assert min(pt, 6.5) <= size <= pt
    assert typeset.width_mm(shown, "plain", size) <= width + 1e-6
    if shown != drawable(name):
        assert size == min(pt, 6.5)


def test_chinese_breaks_between_any_two_characters() -> None:
    assert typeset.wrap("灯笼工厂灯笼工厂", "plain", 10, 15) == ("灯笼工厂"[:4], "灯笼工厂"[:4])


def test_a_line_breaks_at_a_space() -> None:
    assert typeset.wrap("Cool on the fixture", "plain", 10, 22) == ("Cool on the", "fixture")
