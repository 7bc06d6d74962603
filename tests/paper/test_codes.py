"""Codes in whole modules, read back from nothing but their rectangles."""

from __future__ import annotations

import io

import numpy
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from tests.paper.papers import ADDRESS
from tests.paper.reading import BARS, SQUARES
from traveller.paper import codes
from traveller.paper.canvas import PaperSheet
from traveller.rules.codes import from_number

numbers = st.integers(0, 32**6 - 1)


def drawn(symbol: codes.Symbol, *, tall: int = 1) -> Image.Image:
    """A symbol painted from its path alone, four pixels a module, with its quiet zone."""
    quiet = symbol.quiet_modules
    size = (symbol.width_modules + 2 * quiet, symbol.height_modules * tall + 2 * quiet)
    picture = Image.new("L", size, 255)
    pen = ImageDraw.Draw(picture)
    tokens = symbol.path.split()
    for at in range(0, len(tokens), 5):
        x, y, width, height = (int(token) for token in tokens[at : at + 4])
        assert tokens[at + 4] == "re"
        top = quiet + (symbol.height_modules - y - height) * tall
        pen.rectangle((quiet + x, top, quiet + x + width - 1, top + height * tall - 1), fill=0)
    return picture.resize((size[0] * 4, size[1] * 4), Image.Resampling.NEAREST)


@settings(max_examples=40, deadline=None)
@given(numbers)
def test_every_code_128_is_read_back_from_its_rectangles(number: int) -> None:
    code = from_number(number)
    found = zxingcpp.read_barcodes(numpy.asarray(drawn(codes.code128(code), tall=30)), formats=BARS)
    assert [one.text for one in found] == [code]


@settings(max_examples=25, deadline=None)
@given(numbers, st.integers(1, 999))
def test_every_square_is_read_back_from_its_rectangles(number: int, step: int) -> None:
    link = codes.address(ADDRESS, from_number(number), step)
    found = zxingcpp.read_barcodes(numpy.asarray(drawn(codes.qr(link))), formats=SQUARES)
    assert [one.text for one in found] == [link]
    # What a QR holds says its error level; M or better survives a smear over 15 % of the square.
    assert found[0].ec_level in ("M", "Q", "H")


def test_bars_and_modules_are_whole_dots_of_a_thermal_printer() -> None:
    for module in (codes.BAR_MM, codes.QR_MM, codes.QR_LARGE_MM):
        assert (module * 8).is_integer(), "8 dots a millimetre, at 203 dpi"
    assert codes.BAR_MM == 0.375
    assert codes.QR_MM >= 0.6
    assert codes.BAR_HEIGHT_LEAST_MM >= 12


def test_the_address_names_the_batch_and_the_step() -> None:
    code = from_number(1)
    assert codes.address("https://t.lantern.example/", code) == f"https://t.lantern.example/t/{code}"
    assert codes.address("https://t.lantern.example", code, 30) == f"https://t.lantern.example/t/{code}/30"


def test_a_usual_address_stays_in_a_small_square() -> None:
    symbol = codes.qr(codes.address("https://track.small-maker.example", from_number(9), 120))
    assert symbol.width_modules <= 33, "versions 2 to 4"


def test_a_symbol_is_one_transform_and_one_fill() -> None:
    sheet = PaperSheet("A4", title="one", author="test")
    before = len(sheet._canvas._code)
    sheet.square(20, 20, codes.qr("https://t.lantern.example/t/X"))
    added = sheet._canvas._code[before:]
    assert sum(str(line).endswith(" cm") for line in added) == 1
    assert sum(str(line).startswith("f") for line in added) == 1
    assert io.BytesIO(sheet.finish()).read(4) == b"%PDF"
