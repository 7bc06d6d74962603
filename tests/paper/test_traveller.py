"""The traveller: codes read back from printer, copier and phone, rows whole, words inside their boxes."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pypdfium2
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.paper.papers import ADDRESS, CODE, GLOBE, GLOBE_STEPS, LONG_ROUTE
from tests.paper.reading import (
    LASER_DPI,
    THERMAL_DPI,
    bars_on,
    layout,
    pages,
    photograph,
    squares_on,
    texts,
)
from traveller.paper.canvas import SIZES_MM, PaperSize
from traveller.paper.codes import address
from traveller.paper.traveller import draw_traveller
from traveller.paper.traveller_facts import Traveller, TravellerStep
from traveller.paper.writing_box import WritingBox
from traveller.rules.codes import show_code

BOTH: tuple[PaperSize, ...] = ("A4", "Letter")
NAMES = st.text(alphabet="aWmÄßΩЖщ灯工 -/0189", min_size=1, max_size=120).filter(lambda name: bool(name.strip()))


def steps_on_pages(content: Traveller, pdf: bytes) -> list[list[int]]:
    """Which steps each page shows, by the tail under each step's square."""
    tail = show_code(content.code)[4:]

    def stands(number: int, page: str) -> bool:
        return f"{tail}/{number}" in page.split("Phone")[-1] and f"/{number}\r" in page + "\r"

    return [[step.number for step in content.steps if stands(step.number, page)] for page in texts(pdf)]


def expected_squares(content: Traveller, steps: list[int]) -> Counter[str]:
    links = [address(ADDRESS, content.code, number) for number in steps]
    return Counter([address(ADDRESS, content.code), *links])


@pytest.mark.parametrize("size", BOTH)
@pytest.mark.parametrize(("dpi", "black_and_white"), [(THERMAL_DPI, True), (LASER_DPI, False)])
def test_every_code_on_every_page_is_read_back(size: PaperSize, dpi: int, black_and_white: bool) -> None:
    pdf = draw_traveller(LONG_ROUTE, size=size)
    seen: list[int] = []
    for image, steps in zip(
        pages(pdf, dpi, black_and_white=black_and_white), steps_on_pages(LONG_ROUTE, pdf), strict=True
    ):
        assert bars_on(image) == Counter([CODE])
        assert squares_on(image) == expected_squares(LONG_ROUTE, steps)
        seen.extend(steps)
    assert seen == [step.number for step in LONG_ROUTE.steps], "each step once, in order"


@pytest.mark.parametrize(("turn", "lean", "blur"), [(0, 0.0, 2.0), (-8, 0.12, 1.5), (97, 0.08, 1.5)])
def test_every_square_is_read_from_a_phones_picture_of_the_whole_page(turn: int, lean: float, blur: float) -> None:
    pdf = draw_traveller(GLOBE, size="A4")
    for image, steps in zip(pages(pdf, LASER_DPI), steps_on_pages(GLOBE, pdf), strict=True):
        photo = photograph(image, turn_degrees=turn, lean=lean, blur_px=blur, noise=9)
        assert squares_on(photo) == expected_squares(GLOBE, steps)


def test_a_photo_too_blurred_to_read_gives_nothing_rather_than_something_wrong() -> None:
    image = pages(draw_traveller(GLOBE, size="A4"), LASER_DPI)[0]
    assert not squares_on(photograph(image, turn_degrees=5, lean=0.1, blur_px=14, noise=9))


@pytest.mark.parametrize("size", BOTH)
def test_a_long_route_takes_several_pages_each_with_code_and_number(size: PaperSize) -> None:
    found = texts(draw_traveller(LONG_ROUTE, size=size))
    assert len(found) >= 3
    for number, page in enumerate(found, start=1):
        assert show_code(CODE) in page
        assert f"page {number} of {len(found)}" in page
        assert "print 2 replaces print 1" in page
        assert "Mara Field, +44 1632 960 041" in page, "a page found alone says whom to call"


def test_the_head_says_what_a_shop_asks() -> None:
    first = texts(draw_traveller(GLOBE, size="A4"))[0]
    for words in (
        "Globe, amber", "revision C", "1042 and 1047", "Due at Own bench", "17 November 2026", "1,088 pieces",
        "544 shots", "1,006 good", "G-2", "2 of 2 cavities open", "lot R-5521", "Owner of the material",
        "If found: keep it with its totes and call Mara Field",
    ):  # fmt: skip
        assert words in first, words


def test_a_row_says_site_deed_limits_stop_and_caution_and_leaves_boxes() -> None:
    both = " ".join(" ".join(texts(draw_traveller(GLOBE, size="A4"))).split())
    for words in (
        "Halden Mouldings", "Dry the resin", "moisture 0.02 % or less", "STOP",
        "First show: drying times and moisture reading", "Caution hot hopper and hoses", "dew point", "scrap, why",
        "rework", "lot used", "who, date", "Then: send to Own bench", "split or merged", "final quantity good",
        "does not replace the shop's own procedures, local rules",
    ):  # fmt: skip
        assert words in both, words


def test_a_step_that_only_prepares_material_has_no_boxes_for_pieces() -> None:
    drying = replace(GLOBE, steps=GLOBE_STEPS[:1])
    (page,) = texts(draw_traveller(drying, size="A4"))
    assert "rework" not in page
    assert "start" in page


def test_only_gates_carry_a_stop() -> None:
    (page,) = texts(draw_traveller(replace(GLOBE, steps=GLOBE_STEPS[3:4]), size="A4"))
    assert "STOP" not in page


def test_a_hold_stands_at_the_head_and_on_every_page() -> None:
    found = texts(draw_traveller(LONG_ROUTE, size="A4"))
    assert "HELD: do not use · H-12 wet resin" in found[0]
    assert all("HELD" in page for page in found)
    assert "HELD" not in "".join(texts(draw_traveller(GLOBE, size="A4")))


def test_what_is_not_known_is_left_out_or_said() -> None:
    plain = replace(
        GLOBE, due=None, shots=None, tool="", cavities=None, cavities_open=None, material="", material_lot="",
        material_owner="", picture=None, print_number=1, steps=(), then="",
    )  # fmt: skip
    (page,) = texts(draw_traveller(plain, size="A4"))
    assert "no date promised" in page
    assert "Mould" not in page
    assert "replaces" not in page
    assert "Then:" not in page


def test_equal_content_gives_equal_bytes_and_other_content_does_not() -> None:
    assert draw_traveller(GLOBE, size="A4") == draw_traveller(replace(GLOBE), size="A4")
    assert draw_traveller(GLOBE, size="A4") != draw_traveller(replace(GLOBE, print_number=3), size="A4")


def test_the_file_names_itself_and_its_maker() -> None:
    document = pypdfium2.PdfDocument(draw_traveller(GLOBE, size="Letter"))
    reported = document.get_metadata_dict()
    assert reported["Title"] == f"Traveller {show_code(CODE)}"
    assert reported["Author"] == "Lantern Field Co."
    assert reported["CreationDate"].startswith("D:2000"), "not from the clock"
    width, height = document[0].get_size()
    assert (round(width), round(height)) == (612, 792)


def test_names_in_other_scripts_print_as_themselves() -> None:
    content = replace(GLOBE, product="Φανάρι", variant="янтарь", material_owner="Ліхтар Їжакевич")
    page = texts(draw_traveller(content, size="A4"))[0]
    assert "Φανάρι, янтарь" in page
    assert "Ліхтар Їжакевич" in page


def test_an_unreadable_picture_says_so_and_the_rest_prints() -> None:
    page = texts(draw_traveller(replace(GLOBE, picture=b"not a picture"), size="A4"))[0]
    assert "picture unreadable" in page
    assert "Globe, amber" in page


def test_a_row_taller_than_a_page_is_set_smaller_and_nothing_is_cut() -> None:
    limits = tuple(f"limit number {n} of a very long list, with its unit" for n in range(26))
    content = replace(GLOBE, steps=(replace(GLOBE_STEPS[0], limits=limits),))
    together = " ".join(" ".join(texts(draw_traveller(content, size="A4"))).split())
    assert all(limit in together for limit in limits)


def test_a_step_that_can_never_fit_is_refused() -> None:
    content = replace(GLOBE, steps=(replace(GLOBE_STEPS[0], limits=("a line",) * 200),))
    with pytest.raises(ValueError, match="step 10 says more than fits"):
        draw_traveller(content, size="A4")


@pytest.mark.parametrize("size", BOTH)
def test_nothing_runs_into_anything(size: PaperSize, monkeypatch: pytest.MonkeyPatch) -> None:
    with layout(monkeypatch) as drawn:
        draw_traveller(LONG_ROUTE, size=size)
    assert list(drawn.faults(*SIZES_MM[size])) == []
    assert len(drawn.quiet) > 15


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(NAMES, NAMES, NAMES, st.integers(1, 10**7))
def test_long_names_stay_in_their_places(
    monkeypatch: pytest.MonkeyPatch, product: str, word: str, long: str, number: int
) -> None:
    step = TravellerStep(
        number=number % 10_000, site=word, verb=long, limits=(long, word), show_first=long, caution=long,
        boxes=(WritingBox(long, word, 1 + number % 4), WritingBox(word)),
    )  # fmt: skip
    content = replace(
        GLOBE, product=product, variant=word, colour=long, revision=word, orders=(word, long), destination=product,
        start=number, shots=number, tool=word, material=long, material_lot=word, material_owner=product,
        call_if_found=long, then=long, holds=(word,), maker=product, steps=(step, GLOBE_STEPS[1]),
    )  # fmt: skip
    with layout(monkeypatch) as drawn:
        draw_traveller(content, size="Letter")
    assert list(drawn.faults(*SIZES_MM["Letter"])) == []
