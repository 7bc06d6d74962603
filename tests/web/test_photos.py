"""A photo of a code: read as a phone takes it, bounded, and refused in words when there is nothing to read."""

from __future__ import annotations

import random
import struct
import zlib
from io import BytesIO

import pytest
import zxingcpp
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image, ImageFilter

from traveller.journal.refusal import Refusal
from traveller.web import photos
from traveller.web.photos import code_in_photo

CODE = "74W700R"
ADDRESS = f"https://trace.example/t/{CODE}/30"


def drawn(text: str, kind: zxingcpp.BarcodeFormat, scale: int = 6) -> Image.Image:
    """A code as printed, on a sheet of white paper."""
    code = Image.fromarray(zxingcpp.create_barcode(text, kind).to_image(scale=scale)).convert("L")
    if kind == zxingcpp.BarcodeFormat.Code128:
        code = code.resize((code.width, 120))
    sheet = Image.new("L", (code.width + 400, code.height + 400), 235)
    sheet.paste(code, (200, 200))
    return sheet


def upload(image: Image.Image, kind: str = "JPEG", **told: object) -> SimpleUploadedFile:
    file = BytesIO()
    image.save(file, kind, **told)
    return SimpleUploadedFile(f"photo.{kind.lower()}", file.getvalue(), f"image/{kind.lower()}")


def refused(found: str | Refusal) -> str:
    assert isinstance(found, Refusal), found
    return found.code


QR = drawn(ADDRESS, zxingcpp.BarcodeFormat.QRCode)
BARS = drawn(CODE, zxingcpp.BarcodeFormat.Code128)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "BMP", "GIF"])
def test_both_our_codes_are_read_from_the_usual_kinds_of_file(kind: str) -> None:
    assert code_in_photo(upload(QR, kind)) == ADDRESS
    assert code_in_photo(upload(BARS, kind)) == CODE


@pytest.mark.parametrize("angle", [0, 7, 20, 45, 90, 135, 180, 270, 315])
def test_a_code_is_read_however_it_lies(angle: int) -> None:
    assert code_in_photo(upload(QR.rotate(angle, expand=True, fillcolor=235))) == ADDRESS
    assert code_in_photo(upload(BARS.rotate(angle, expand=True, fillcolor=235))) == CODE


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photo_is_read_as_the_phone_held_it(orientation: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    assert code_in_photo(upload(BARS, exif=exif)) == CODE


def test_a_dim_blurred_and_noisy_photo_is_read() -> None:
    noise = random.Random(7)
    dim = QR.point(lambda level: 40 + level * 0.35).filter(ImageFilter.GaussianBlur(1.5))
    grains = bytes(max(0, min(255, level + noise.randint(-12, 12))) for level in dim.tobytes())
    assert code_in_photo(upload(Image.frombytes("L", dim.size, grains), quality=60)) == ADDRESS


def test_a_photo_of_a_modern_phone_is_brought_down_and_read() -> None:
    large = Image.new("RGB", (6000, 4500), (200, 190, 170))
    code = QR.convert("RGB").resize((1400, 1400))
    large.paste(code, (2300, 1500))
    assert code_in_photo(upload(large, quality=80)) == ADDRESS


def test_colours_with_transparency_are_read() -> None:
    assert code_in_photo(upload(QR.convert("RGBA"), "PNG")) == ADDRESS
    assert code_in_photo(upload(QR.convert("CMYK"))) == ADDRESS


def test_no_photo_and_an_empty_one_are_told_apart_from_an_unreadable_one() -> None:
    assert refused(code_in_photo(None)) == "photo_empty"
    assert refused(code_in_photo(SimpleUploadedFile("x.jpg", b""))) == "photo_empty"


@pytest.mark.parametrize("content", [b"hello", b"%PDF-1.7", b"\xff\xd8\xff\xe0", b"GIF89a", b"<svg/>", b"\0" * 5000])
def test_what_is_no_photo_is_told_in_words(content: bytes) -> None:
    assert refused(code_in_photo(SimpleUploadedFile("x.jpg", content))) == "photo_unreadable"


def test_a_photo_that_was_cut_off_on_the_way_is_told_in_words() -> None:
    whole = upload(QR, "PNG").read()
    assert refused(code_in_photo(SimpleUploadedFile("x.png", whole[: len(whole) // 2]))) == "photo_unreadable"


@pytest.mark.parametrize("part", range(0, 100, 5))
def test_a_damaged_photo_is_never_a_fault(part: int) -> None:
    whole = bytearray(upload(BARS).read())
    at = len(whole) * part // 100
    whole[at : at + 40] = bytes(40)
    found = code_in_photo(SimpleUploadedFile("x.jpg", bytes(whole)))
    assert found == CODE or isinstance(found, Refusal)


def test_a_photo_without_a_code_is_told_in_words() -> None:
    assert refused(code_in_photo(upload(Image.new("L", (800, 600), 210)))) == "photo_without_code"


def test_a_code_of_another_kind_is_none_of_ours() -> None:
    other = drawn("4006381333931", zxingcpp.BarcodeFormat.EAN13)
    assert refused(code_in_photo(upload(other))) == "photo_without_code"


def test_a_file_that_is_too_large_is_refused_before_it_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photos, "BYTES_MAX", 1000)
    monkeypatch.setattr("PIL.Image.open", None)
    found = code_in_photo(SimpleUploadedFile("x.jpg", b"x" * 1001))
    assert refused(found) == "photo_too_large"


@pytest.mark.parametrize("side", [8_000, 60_000])
def test_a_small_file_that_unpacks_to_a_huge_picture_is_refused_unopened(side: int) -> None:
    header = b"IHDR" + struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
    data = b"IDAT" + zlib.compress(b"\0" * 1000)
    chunks = b"".join(
        struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
        for body in (header, data, b"IEND")
    )
    bomb = SimpleUploadedFile("x.png", b"\x89PNG\r\n\x1a\n" + chunks, "image/png")
    assert refused(code_in_photo(bomb)) in ("photo_too_large", "photo_unreadable")
