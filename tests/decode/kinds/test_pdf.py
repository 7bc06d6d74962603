"""Pages of a stranger's PDF as pictures: few, of a bounded size, and words where there is none."""

from __future__ import annotations

import io
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image

from tests.paper.certificates import bare, certificate, endless
from traveller.decode import Undecoded, decode
from traveller.decode.kinds import pdf
from traveller.paper.pdf_pages import PdfPages


def drawn(content: bytes) -> PdfPages:
    """As the child draws it, without the child."""
    facts, pictures = pdf.decode({}, [content])
    return PdfPages(fault="locked") if facts.get("locked") else PdfPages(tuple(pictures), facts["total"])


def sizes(pages: PdfPages) -> list[tuple[int, int]]:
    found = []
    for picture in pages.pictures:
        image = Image.open(io.BytesIO(picture))
        assert image.format == "JPEG"
        found.append(image.size)
    return found


def test_one_page_is_drawn_as_it_stands_and_nothing_is_to_be_said() -> None:
    pages = drawn(certificate())
    assert len(pages.pictures) == pages.total == 1 and pages.note == ""
    picture = Image.open(io.BytesIO(pages.pictures[0])).convert("L")
    width, height = picture.size
    assert width == pytest.approx(1000, abs=2) and height == pytest.approx(1000 * 842 / 595, abs=2)
    # Its left lower quarter is black, the rest is paper.
    assert picture.getpixel((width // 4, height * 3 // 5)) == pytest.approx(0, abs=8)
    assert picture.getpixel((width * 3 // 4, height // 4)) == pytest.approx(255, abs=8)


def test_of_eight_pages_six_are_drawn_and_the_rest_is_named() -> None:
    pages = drawn(certificate(8))
    assert len(pages.pictures) == 6 and pages.total == 8
    assert pages.note == "2 more pages in the original."
    assert drawn(certificate(7)).note == "1 more page in the original."


def test_the_same_file_gives_the_same_pictures() -> None:
    assert drawn(certificate(2)) == drawn(certificate(2))


def test_a_locked_file_says_so() -> None:
    pages = drawn(certificate(password="between us"))
    assert not pages.pictures and pages.fault == "locked" and "locked by a password" in pages.note


@pytest.mark.parametrize("content", [b"", b"%PDF-1.4 and nothing more", certificate()[:200], bytes(range(256)) * 40])
def test_a_damaged_file_is_unreadable(content: bytes, tmp_path: Path) -> None:
    with pytest.raises((pypdfium2.PdfiumError, ValueError)):
        pdf.decode({}, [content])
    assert decode("pdf", [content], {}, place=tmp_path) == Undecoded("unreadable")


@pytest.mark.parametrize("cut", [0.5, 0.9])
def test_a_file_cut_short_is_drawn_as_far_as_it_goes_or_said_to_be_damaged(cut: float) -> None:
    whole = certificate(3)
    try:
        assert drawn(whole[: int(len(whole) * cut)]).pictures
    except pypdfium2.PdfiumError as damaged:
        assert str(damaged)


@pytest.mark.parametrize("box", ["0 0 0 0", "0 0 0 842", "0 0 200000 200000", "0 0 1 14400", "0 0 14400 1"])
def test_a_page_of_no_size_or_of_any_size_stays_within_bounds(box: str) -> None:
    try:
        found = sizes(drawn(bare(box)))
    except (pypdfium2.PdfiumError, ValueError) as without:
        assert str(without)
        return
    assert found
    for width, height in found:
        assert 1 <= width <= pdf.WIDE_PX and 1 <= height <= pdf.TALL_PX


def test_a_page_without_a_size_has_no_scale() -> None:
    for width, height in ((0.0, 10.0), (10.0, -1.0), (float("nan"), 1.0)):
        with pytest.raises(ValueError, match="size"):
            pdf.scale_for(width, height)


def test_a_small_file_that_never_ends_is_ended_and_the_next_file_is_drawn(tmp_path: Path) -> None:
    assert len(endless()) < 6_000
    # Whichever it comes to first, the end of its time or of its memory.
    assert decode("pdf", [endless()], {}, place=tmp_path) in (Undecoded("too_slow"), Undecoded("too_large"))
    assert "takes too long" in PdfPages(fault="endless").note
    assert not isinstance(decode("pdf", [certificate()], {}, place=tmp_path), Undecoded)
