"""The dispatch note: the sender sees quantities, the receiver counts blind."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.paper.papers import ADDRESS, NOTE
from tests.paper.reading import LASER_DPI, THERMAL_DPI, bars_on, layout, pages, photograph, squares_on, texts
from traveller.paper.canvas import SIZES_MM, PaperSize
from traveller.paper.codes import address
from traveller.paper.dispatch_note import DispatchNote, draw_dispatch_note

BOTH: tuple[PaperSize, ...] = ("A4", "Letter")
NAMES = st.text(alphabet="aWmÄßΩЖщ灯工 -/0189", min_size=1, max_size=90).filter(lambda name: bool(name.strip()))


def copies(content: DispatchNote) -> tuple[str, str]:
    """The text of the sender's and of the receiver's pages."""
    found = texts(draw_dispatch_note(content, size="A4"))
    senders = [page for page in found if "sender's copy" in page]
    receivers = [page for page in found if "receiver's copy" in page]
    assert len(senders) + len(receivers) == len(found)
    return "\n".join(senders), "\n".join(receivers)


@pytest.mark.parametrize("size", BOTH)
@pytest.mark.parametrize(("dpi", "black_and_white"), [(THERMAL_DPI, True), (LASER_DPI, False)])
def test_both_codes_are_read_back_from_both_copies(size: PaperSize, dpi: int, black_and_white: bool) -> None:
    found = pages(draw_dispatch_note(NOTE, size=size), dpi, black_and_white=black_and_white)
    assert len(found) == 2
    for image in found:
        assert bars_on(image) == Counter([NOTE.code])
        assert squares_on(image) == Counter([address(ADDRESS, NOTE.code)])


def test_the_square_is_read_from_a_phones_picture() -> None:
    image = pages(draw_dispatch_note(NOTE, size="A4"), LASER_DPI)[1]
    photo = photograph(image, turn_degrees=-6, lean=0.1, blur_px=1.5, noise=9)
    assert squares_on(photo) == Counter([address(ADDRESS, NOTE.code)])


def test_the_senders_copy_tells_every_quantity_and_the_whole() -> None:
    senders, _ = copies(NOTE)
    for words in ("1,234 pieces", "5,678 pieces", "98.75 kg", "by weight", "6,912 pieces and 98.75 kg in 3 totes"):
        assert words in senders, words


def test_no_quantity_leaks_onto_the_receivers_copy() -> None:
    _, receivers = copies(NOTE)
    for figure in ("1,234", "1234", "5,678", "5678", "98.75", "6,912", "6912", "pieces", "kg", "floor scale"):
        assert figure not in receivers, figure
    for words in ("2KJ-ZXH-7", "R-5521", "Your count", "Count before you ask", "Lantern Field Co.", "3 totes"):
        assert words in receivers, words


@settings(max_examples=15, deadline=None)
@given(st.lists(st.integers(10_000_000, 99_999_999), min_size=1, max_size=6))
def test_whatever_was_sent_the_receivers_copy_does_not_tell(quantities: list[int]) -> None:
    content = replace(NOTE, lines=tuple(replace(NOTE.lines[0], quantity=number) for number in quantities))
    senders, receivers = copies(content)
    for number in [*quantities, sum(quantities)]:
        assert f"{number:,}" in senders
        assert f"{number:,}" not in receivers
        assert str(number) not in receivers


def test_a_note_says_from_where_to_where_when_by_whom_and_why() -> None:
    for copy in copies(NOTE):
        for words in (
            "D-2048", "Halden Mouldings", "Unit 7, Quarry Lane", "4 Orchard Row", "12 November 2026", "14:05",
            "Field & Daughters", "processing", "grey totes, lids", "Property of", "sent by", "carried by",
            "received by",
        ):  # fmt: skip
            assert words in copy, words


def test_many_totes_take_more_pages_each_with_number_and_code() -> None:
    lines = tuple(replace(NOTE.lines[0], tote=str(n), quantity=Decimal(n)) for n in range(1, 41))
    pdf = draw_dispatch_note(replace(NOTE, lines=lines, remarks="two pallets"), size="Letter")
    found = texts(pdf)
    assert len(found) >= 4
    assert all("D-2048" in page for page in found)
    assert sum(page.count("2KJ-ZXH-7") for page in found) == 80
    assert all(bars_on(image) == Counter([NOTE.code]) for image in pages(pdf, THERMAL_DPI, black_and_white=True))


def test_a_note_that_was_taken_back_says_so_on_both_copies() -> None:
    struck = replace(NOTE, struck="TAKEN BACK 24 November 2026, 10:40: nothing left. This note does not count.")
    for copy in copies(struck):
        assert "TAKEN BACK 24 November 2026" in copy and "does not count" in copy
    assert not any("TAKEN BACK" in copy for copy in copies(NOTE))


def test_equal_notes_are_equal_bytes() -> None:
    assert draw_dispatch_note(NOTE, size="A4") == draw_dispatch_note(replace(NOTE), size="A4")


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(NAMES, NAMES, st.integers(0, 10**9), st.sampled_from(BOTH))
def test_long_names_stay_in_their_columns(
    monkeypatch: pytest.MonkeyPatch, name: str, word: str, number: int, size: PaperSize
) -> None:
    line = replace(
        NOTE.lines[0], tote=word[:8], lot=name, what=name, quantity=number, how_counted=word, property_of=name
    )
    content = replace(
        NOTE, number=name, carrier=word, returnables=name, remarks=name, lines=(line, NOTE.lines[1]),
        sender=replace(NOTE.sender, name=name, phone=word), receiver=replace(NOTE.receiver, address=(name, word)),
    )  # fmt: skip
    with layout(monkeypatch) as drawn:
        draw_dispatch_note(content, size=size)
    assert list(drawn.faults(*SIZES_MM[size])) == []
