"""The packing list: what is in this carton and what follows, and never a price."""

from __future__ import annotations

from collections import Counter
from dataclasses import fields, replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.paper.papers import PACKED
from tests.paper.reading import LASER_DPI, THERMAL_DPI, bars_on, layout, pages, squares_on, texts
from traveller.paper.canvas import SIZES_MM, PaperSize
from traveller.paper.packing_list import PackingLine, PackingList, draw_packing_list

BOTH: tuple[PaperSize, ...] = ("A4", "Letter")
NAMES = st.text(alphabet="aWmÄßΩЖщ灯工 -/0189", min_size=1, max_size=90).filter(lambda name: bool(name.strip()))


@pytest.mark.parametrize("size", BOTH)
@pytest.mark.parametrize(("dpi", "black_and_white"), [(THERMAL_DPI, True), (LASER_DPI, False)])
def test_the_cartons_code_is_read_back_from_every_page(size: PaperSize, dpi: int, black_and_white: bool) -> None:
    content = replace(PACKED, lines=PACKED.lines * 15)
    found = pages(draw_packing_list(content, size=size), dpi, black_and_white=black_and_white)
    assert len(found) >= 2
    for image in found:
        assert bars_on(image) == Counter(["C000417"])
        assert not squares_on(image)


def test_a_list_says_order_carton_what_is_in_it_and_what_follows() -> None:
    (page,) = texts(draw_packing_list(PACKED, size="A4"))
    for words in (
        "order 1042", "carton 2 of 5", "PO 77-A", "Camp lantern, amber", "1,000", "24 pieces", "952", "nothing",
        "2KJ-ZXH-7", "41M-0R2-Q", "9.1 kg", "10.4 kg", "Ines", "checked by", "Northlight Outfitters",
        "20 November 2026",
    ):  # fmt: skip
        assert words in page, words


def test_no_price_has_a_place_on_a_packing_list() -> None:
    named = {one.name for kind in (PackingList, PackingLine) for one in fields(kind)}
    assert not any(word in name for name in named for word in ("price", "cost", "amount", "currency"))


def test_one_piece_is_one_piece() -> None:
    (page,) = texts(draw_packing_list(replace(PACKED, lines=(replace(PACKED.lines[0], shipped=1),)), size="A4"))
    assert "1 piece\r" in page.replace("\n", "\r") or "1 piece " in page


def test_equal_lists_are_equal_bytes() -> None:
    assert draw_packing_list(PACKED, size="Letter") == draw_packing_list(replace(PACKED), size="Letter")


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(NAMES, NAMES, st.integers(0, 10**9), st.sampled_from(BOTH))
def test_long_names_stay_in_their_columns(
    monkeypatch: pytest.MonkeyPatch, name: str, word: str, number: int, size: PaperSize
) -> None:
    line = replace(PACKED.lines[0], product=name, variant=word, ordered=number, shipped=number, lots=(name, word))
    content = replace(
        PACKED, order=name, customers_reference=word, lines=(line, PACKED.lines[1]), packer=name, checker=word,
        net_weight=name, sender=replace(PACKED.sender, name=name, phone=word),
    )  # fmt: skip
    with layout(monkeypatch) as drawn:
        draw_packing_list(content, size=size)
    assert list(drawn.faults(*SIZES_MM[size])) == []
