"""The tote label: what, how many, which state, where next, four to a page or one on its own."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.paper.papers import ADDRESS, CODE, TOTE
from tests.paper.reading import LASER_DPI, THERMAL_DPI, bars_on, layout, pages, photograph, squares_on, texts
from traveller.paper import marks
from traveller.paper.canvas import SIZES_MM
from traveller.paper.codes import address
from traveller.paper.tote_label import LabelSize, draw_tote_labels
from traveller.rules.codes import from_number, show_code
from traveller.rules.statuses import StatusKind

SIZES: tuple[LabelSize, ...] = ("A4", "Letter", "A6")
FIVE = tuple(replace(TOTE, code=from_number(900 + n), tote=n + 1, totes=5) for n in range(5))
NAMES = st.text(alphabet="aWmÄßΩЖщ灯工 -/0189", min_size=1, max_size=120).filter(lambda name: bool(name.strip()))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(("dpi", "black_and_white"), [(THERMAL_DPI, True), (LASER_DPI, False)])
def test_every_code_on_every_label_is_read_back(size: LabelSize, dpi: int, black_and_white: bool) -> None:
    bars: Counter[str] = Counter()
    squares: Counter[str] = Counter()
    for image in pages(draw_tote_labels(FIVE, size=size), dpi, black_and_white=black_and_white):
        bars += bars_on(image)
        squares += squares_on(image)
    assert bars == Counter(label.code for label in FIVE)
    assert squares == Counter(address(ADDRESS, label.code) for label in FIVE)


def test_four_labels_on_one_sheet_are_read_from_one_phones_picture() -> None:
    (image,) = pages(draw_tote_labels(FIVE[:4], size="A4"), LASER_DPI)
    photo = photograph(image, turn_degrees=5, lean=0.1, blur_px=1.5, noise=9)
    assert squares_on(photo) == Counter(address(ADDRESS, label.code) for label in FIVE[:4])


def test_a_label_says_what_where_and_how_many() -> None:
    (page,) = texts(draw_tote_labels([TOTE], size="A6"))
    for words in (
        "Free to use", "tote 2 of 3", "Globe", "amber", "1,034 pieces", "by weight, 50-piece sample", "2KJ-ZXH-7",
        "Assemble", "Own bench", "12 November 2026", "does not expire", "14.2 kg", show_code(CODE),
    ):  # fmt: skip
        assert words in page, words


def test_a_label_for_a_blind_count_tells_no_quantity() -> None:
    (page,) = texts(draw_tote_labels([replace(TOTE, quantity=None, gross_weight="")], size="A6"))
    assert "count on arrival" in page
    assert "1,034" not in page
    assert "by weight" not in page


def test_each_state_has_its_own_word_and_shape() -> None:
    kinds: tuple[StatusKind, ...] = ("free", "held", "disputed", "road", "in_process")
    states = [marks.status_on_paper(kind, "pack") for kind in kinds]
    assert len({state.shape for state in states}) == len({state.word for state in states}) == 5
    shapes = set()
    for state in states:
        pdf = draw_tote_labels([replace(TOTE, status=marks.Status("the same word", state.shape))], size="A6")
        shapes.add(pages(pdf, 100, black_and_white=True)[0].crop((0, 0, 70, 65)).tobytes())
    assert len(shapes) == 5, "told apart in black and white"


def test_an_expiry_is_a_day_in_words() -> None:
    (page,) = texts(draw_tote_labels([replace(TOTE, expires_on=date(2027, 2, 1))], size="A6"))
    assert "1 February 2027" in page


def test_five_labels_take_two_sheets_or_five_small_pages() -> None:
    assert len(pages(draw_tote_labels(FIVE, size="Letter"), 30)) == 2
    assert len(pages(draw_tote_labels(FIVE, size="A6"), 30)) == 5


def test_equal_labels_are_equal_bytes() -> None:
    assert draw_tote_labels(FIVE, size="A4") == draw_tote_labels(FIVE, size="A4")


def test_no_label_is_a_fault_of_the_caller() -> None:
    with pytest.raises(ValueError, match="no label"):
        draw_tote_labels((), size="A4")


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(NAMES, NAMES, st.integers(0, 10**9), st.sampled_from(SIZES))
def test_long_names_stay_on_their_label(
    monkeypatch: pytest.MonkeyPatch, name: str, word: str, number: int, size: LabelSize
) -> None:
    label = replace(
        TOTE, maker=name, part=name, variant=word, lot=name, quantity=number, how_counted=name, next_site=word,
        next_operation=name, gross_weight=word, tote=number % 999, totes=999, status=marks.Status(word, "tick"),
    )  # fmt: skip
    with layout(monkeypatch) as drawn:
        draw_tote_labels((label,) * 4, size=size)
    assert list(drawn.faults(*SIZES_MM[size])) == []
