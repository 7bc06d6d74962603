"""The site pass card: a square that opens the pass, the same address in letters, and whom to call."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.paper.papers import CARD
from tests.paper.reading import LASER_DPI, THERMAL_DPI, layout, pages, photograph, squares_on, texts
from traveller.paper.canvas import SIZES_MM, PaperSize
from traveller.paper.pass_card import PassWords, draw_pass_card

BOTH: tuple[PaperSize, ...] = ("A4", "Letter")
NAMES = st.text(alphabet="aWmÄßΩЖщ灯工 -/0189", min_size=1, max_size=90).filter(lambda name: bool(name.strip()))


@pytest.mark.parametrize("size", BOTH)
@pytest.mark.parametrize(("dpi", "black_and_white"), [(THERMAL_DPI, True), (LASER_DPI, False)])
def test_the_square_opens_the_pass(size: PaperSize, dpi: int, black_and_white: bool) -> None:
    (image,) = pages(draw_pass_card(CARD, size=size), dpi, black_and_white=black_and_white)
    assert squares_on(image) == Counter([CARD.link])


def test_the_square_is_read_from_across_the_bench() -> None:
    (image,) = pages(draw_pass_card(CARD, size="A4"), LASER_DPI)
    photo = photograph(image, turn_degrees=12, lean=0.15, blur_px=3.5, noise=9)
    assert squares_on(photo) == Counter([CARD.link])


def test_the_card_says_whose_it_is_what_for_the_address_and_whom_to_call() -> None:
    (page,) = texts(draw_pass_card(CARD, size="A4"))
    for words in ("Halden Mouldings", "Opens this shop's page", CARD.link, "Who to call", "Mara Field", "is a key"):
        assert words in page, words


def test_the_card_speaks_the_sites_language() -> None:
    words = PassWords(
        kind="Pase de taller", purpose="Abre la página de este taller en su teléfono.", steps=("Escanee el cuadro.",),
        by_hand="O escriba esta dirección:", call="A quién llamar", secret="Esta tarjeta es una llave.",
    )  # fmt: skip
    (page,) = texts(draw_pass_card(replace(CARD, words=words), size="Letter"))
    assert "página de este taller" in page
    assert "A quién llamar" in page
    assert "Who to call" not in page


def test_equal_cards_are_equal_bytes() -> None:
    assert draw_pass_card(CARD, size="A4") == draw_pass_card(replace(CARD), size="A4")


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(NAMES, NAMES, st.integers(1, 120), st.sampled_from(BOTH))
def test_long_names_and_addresses_stay_on_the_card(
    monkeypatch: pytest.MonkeyPatch, name: str, word: str, length: int, size: PaperSize
) -> None:
    card = replace(CARD, site=name, maker=word, call=name, link="https://t.lantern.example/pass/" + "x7" * length)
    with layout(monkeypatch) as drawn:
        draw_pass_card(card, size=size)
    assert list(drawn.faults(*SIZES_MM[size])) == []
