"""The sheet: sizes, pictures, swatches, and order of ink."""

from __future__ import annotations

import io

import pypdfium2
import pytest
from PIL import Image

from tests.paper.reading import pages
from traveller.paper import marks
from traveller.paper.canvas import SIZES_MM, PaperSheet


@pytest.mark.parametrize("size", sorted(SIZES_MM))
def test_a_page_has_the_size_it_names(size: str) -> None:
    document = pypdfium2.PdfDocument(PaperSheet(size, title="size", author="test").finish())
    width, height = (side * 25.4 / 72 for side in document[0].get_size())
    assert (width, height) == pytest.approx(SIZES_MM[size], abs=0.01)


def test_a_picture_keeps_its_shape_on_white_paper() -> None:
    out = io.BytesIO()
    Image.new("RGBA", (400, 100), (200, 0, 0, 255)).save(out, "PNG")
    sheet = PaperSheet("A6", title="picture", author="test")
    sheet.picture(10, 10, 42, 42, out.getvalue())
    page = pypdfium2.PdfDocument(sheet.finish())[0].render(scale=72 / 25.4 * 4 / 8).to_pil().convert("RGB")
    per_mm = page.width / 105
    assert page.getpixel((int(31 * per_mm), int(31 * per_mm))) == (200, 0, 0)
    assert page.getpixel((int(31 * per_mm), int(15 * per_mm))) == (255, 255, 255)


def test_a_colour_that_is_none_draws_nothing() -> None:
    def swatched(colour: str) -> bytes:
        sheet = PaperSheet("A6", title="swatch", author="test")
        sheet.swatch(10, 10, 10, 10, colour)
        return sheet.finish()

    assert swatched("amber") == swatched("#12") == swatched("")
    assert swatched("#e8a33d") != swatched("")


def test_the_stop_sign_is_white_on_black() -> None:
    sheet = PaperSheet("A6", title="stop", author="test")
    marks.stop_octagon(sheet, 20, 20, 40)
    page = pages(sheet.finish(), 203, black_and_white=True)[0]
    per_mm = page.width / 105
    inside = page.crop((int(22 * per_mm), int(32 * per_mm), int(58 * per_mm), int(48 * per_mm)))
    white = inside.histogram()[255] / (inside.width * inside.height)
    assert 0.1 < white < 0.6, "letters in white"
    assert page.getpixel((int(21 * per_mm), int(21 * per_mm))) == 255, "its corners are cut"
    assert page.getpixel((int(40 * per_mm), int(22 * per_mm))) == 0
