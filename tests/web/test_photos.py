"""The door for a photo of a code: bounded, read in a child while somebody waits, refused in words."""

from __future__ import annotations

import struct
import zlib
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from tests.decode.photos import ADDRESS, BARS, CODE, QR, photo
from traveller.decode.slots import alone, slot
from traveller.journal.refusal import Refusal
from traveller.web import photos


def code_in_photo(upload: Any) -> str | Refusal:
    return photos.code_in_photo(upload, "pass-7")


def upload(content: bytes, name: str = "photo.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content, "image/jpeg")


def refused(found: str | Refusal) -> str:
    assert isinstance(found, Refusal), found
    return found.code


def raising(*_: Any, **__: Any) -> Any:
    raise AssertionError("the server itself looked into a stranger's picture")


@pytest.mark.child
def test_a_code_is_read_though_the_server_itself_can_open_no_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    shots = [upload(photo(QR)), upload(photo(BARS, "PNG"))]
    monkeypatch.setattr("PIL.Image.open", raising)
    monkeypatch.setattr("zxingcpp.read_barcodes", raising)
    assert [code_in_photo(shot) for shot in shots] == [ADDRESS, CODE]


def test_a_photo_without_a_code_is_told_in_words() -> None:
    assert refused(code_in_photo(upload(photo(Image.new("L", (800, 600), 210))))) == "photo_without_code"


def test_a_second_photo_of_the_same_pass_is_told_to_wait_and_one_of_another_pass_is_read() -> None:
    with alone(settings.DECODE_PLACE, "pass-7"):
        assert refused(code_in_photo(upload(photo(QR)))) == "photo_busy"
        assert photos.code_in_photo(upload(photo(QR)), "pass-8") == ADDRESS
    assert code_in_photo(upload(photo(QR))) == ADDRESS


def test_when_every_place_is_taken_the_code_is_to_be_typed() -> None:
    place = settings.DECODE_PLACE
    with slot(place, ("1",), 9) as one, slot(place, ("2",), 9) as two, slot(place, ("code",), 9) as own:
        assert one and two and own
        assert refused(code_in_photo(upload(photo(QR)))) == "photo_busy"


def test_no_photo_and_an_empty_one_are_told_apart_from_an_unreadable_one() -> None:
    assert refused(code_in_photo(None)) == "photo_empty"
    assert refused(code_in_photo(SimpleUploadedFile("x.jpg", b""))) == "photo_empty"


@pytest.mark.parametrize("content", [b"hello", b"%PDF-1.7", b"\xff\xd8\xff\xe0", b"GIF89a", b"<svg/>", b"\0" * 5000])
def test_what_is_no_photo_is_told_in_words(content: bytes) -> None:
    assert refused(code_in_photo(SimpleUploadedFile("x.jpg", content))) == "photo_unreadable"


def test_a_photo_that_was_cut_off_on_the_way_is_told_in_words() -> None:
    whole = photo(QR, "PNG")
    assert refused(code_in_photo(SimpleUploadedFile("x.png", whole[: len(whole) // 2]))) == "photo_unreadable"


def test_a_file_that_is_too_large_is_refused_before_it_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photos, "PHOTO_BYTES_MAX", 1000)
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
    assert refused(code_in_photo(bomb)) == "photo_too_many_points"
