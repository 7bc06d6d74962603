"""A photo of a code: read as a phone takes it, however it lies, whatever was damaged on the way."""

from __future__ import annotations

import random

import pytest
import zxingcpp
from PIL import Image, ImageFilter

from tests.decode.photos import ADDRESS, BARS, CODE, QR, drawn, photo
from traveller.decode.kinds import code


def read(content: bytes) -> str | None:
    """As the child does, without the child: what it raises is what the asker is told as unreadable."""
    found: str | None = code.decode({}, [content])[0]["text"]
    return found


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_both_our_codes_are_read_from_the_usual_kinds_of_file(kind: str) -> None:
    assert read(photo(QR, kind)) == ADDRESS
    assert read(photo(BARS, kind)) == CODE


@pytest.mark.parametrize("angle", [0, 7, 20, 45, 90, 135, 180, 270, 315])
def test_a_code_is_read_however_it_lies(angle: int) -> None:
    assert read(photo(QR.rotate(angle, expand=True, fillcolor=235))) == ADDRESS
    assert read(photo(BARS.rotate(angle, expand=True, fillcolor=235))) == CODE


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photo_is_read_as_the_phone_held_it(orientation: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    assert read(photo(BARS, exif=exif)) == CODE


def test_a_dim_blurred_and_noisy_photo_is_read() -> None:
    noise = random.Random(7)
    dim = QR.point(lambda level: 40 + level * 0.35).filter(ImageFilter.GaussianBlur(1.5))
    grains = bytes(max(0, min(255, level + noise.randint(-12, 12))) for level in dim.tobytes())
    assert read(photo(Image.frombytes("L", dim.size, grains), quality=60)) == ADDRESS


def test_a_photo_of_a_modern_phone_is_brought_down_and_read() -> None:
    large = Image.new("RGB", (5600, 4400), (200, 190, 170))
    code = QR.convert("RGB").resize((1400, 1400))
    large.paste(code, (2100, 1500))
    assert read(photo(large, quality=80)) == ADDRESS


def test_colours_with_transparency_are_read() -> None:
    assert read(photo(QR.convert("RGBA"), "PNG")) == ADDRESS
    assert read(photo(QR.convert("CMYK"))) == ADDRESS


@pytest.mark.parametrize("part", range(0, 100, 5))
def test_a_damaged_photo_is_read_or_said_to_be_damaged(part: int) -> None:
    whole = bytearray(photo(BARS))
    at = len(whole) * part // 100
    whole[at : at + 40] = bytes(40)
    try:
        assert read(bytes(whole)) in (CODE, None)
    except (OSError, ValueError, SyntaxError) as damaged:
        # What the child answers as unreadable.
        assert str(damaged)


def test_a_photo_without_a_code_is_told_in_words() -> None:
    assert read(photo(Image.new("L", (800, 600), 210))) is None


def test_a_code_of_another_kind_is_none_of_ours() -> None:
    other = drawn("4006381333931", zxingcpp.BarcodeFormat.EAN13)
    assert read(photo(other)) is None
