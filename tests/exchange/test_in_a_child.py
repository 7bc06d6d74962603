"""A workbook's bytes are decoded by nobody but the child; what comes of it that is no answer is said in words."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn, get_args

import openpyxl
import pytest
from PIL import Image

from tests.exchange.books import SMALL, Upload, png, problems, read, small_xlsx, write
from traveller.decode import Undecoded
from traveller.decode.ask import Why
from traveller.exchange.workbook import asking, read_raw

WITH_PICTURE = SMALL["parts"].replace("CUP,Cup,made,piece,,", "CUP,Cup,made,piece,,cup.jpg")


def photo_with_place() -> bytes:
    """A photo as a phone takes it: which camera, where it stood, and a remark."""
    reported = Image.Exif()
    reported[0x010F] = "a camera"
    reported.get_ifd(0x8825)[1] = "N"
    out = io.BytesIO()
    Image.new("RGB", (90, 60), "teal").save(out, "JPEG", exif=reported, comment=b"at home")
    return out.getvalue()


def zip_with_picture() -> bytes:
    """The small workbook as a zip, with a photo of the cup."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, text in {**SMALL, "parts": WITH_PICTURE}.items():
            archive.writestr(f"{name}.csv", text)
        archive.writestr("cup.jpg", photo_with_place())
    return out.getvalue()


@pytest.fixture
def no_decoder_here(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """From the call on, every decoder that this process could use raises."""

    def refuse(*_: Any, **__: Any) -> NoReturn:
        raise AssertionError("decoded in the server")

    def close() -> None:
        for owner, name in ((openpyxl, "load_workbook"), (zipfile, "ZipFile"), (csv, "reader"), (Image, "open")):
            monkeypatch.setattr(owner, name, refuse)

    return close


@pytest.mark.child
def test_the_server_decodes_no_workbook_and_no_picture(tmp_path: Path, no_decoder_here: Callable[[], None]) -> None:
    folder = write(tmp_path / "book", parts=WITH_PICTURE)
    (folder / "cup.jpg").write_bytes(photo_with_place())
    sources = [folder, Upload("book.zip", zip_with_picture()), Upload("book.xlsx", small_xlsx())]
    no_decoder_here()
    found = [read(source) for source in sources]
    assert [len(workbook.sites) for workbook in found] == [2, 2, 2]
    assert found[0].pictures == found[1].pictures != {}


def test_a_picture_that_comes_in_says_neither_where_nor_by_what_it_was_taken() -> None:
    content = read(Upload("book.zip", zip_with_picture())).pictures["cup.jpg"]
    picture = Image.open(io.BytesIO(content))
    assert (picture.format, picture.size) == ("JPEG", (90, 60))
    assert not picture.getexif() and "comment" not in picture.info
    assert all(word not in content for word in (b"a camera", b"at home", b"Exif"))


def test_a_folder_goes_through_one_child_and_one_more_for_its_pictures(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    asked: list[Any] = []
    real = asking.decode

    def noted(kind: str, blobs: Any, reported: Any, **more: Any) -> Any:
        asked.append(reported)
        return real(kind, blobs, reported, **more)

    monkeypatch.setattr(asking, "decode", noted)
    parts = WITH_PICTURE.replace("mill,\nCLAY", "mill,lid.png\nCLAY")
    folder = write(tmp_path, parts=parts)
    (folder / "cup.jpg").write_bytes(photo_with_place())
    (folder / "lid.png").write_bytes(png())
    assert sorted(read_raw(folder).pictures) == ["cup.jpg", "lid.png"]
    assert [reported.get("draw") for reported in asked] == [None, ["cup.jpg", "lid.png"]]
    asked.clear()
    read_raw(write(tmp_path / "bare"))
    assert len(asked) == 1


@pytest.mark.parametrize("why", get_args(Why))
def test_what_the_child_could_not_do_is_said_in_words(monkeypatch: pytest.MonkeyPatch, why: Why) -> None:
    monkeypatch.setattr(asking, "decode", lambda *_, **__: Undecoded(why))
    (found,) = problems(Upload("book.xlsx", b"anything"))
    assert (found.sheet, found.found) == ("(the file)", "book.xlsx")
    assert found.wrong in {
        "waits behind other files that are being read",
        "takes too long to read",
        "takes too much memory to read",
        "was cut short while it was read, by no fault of the file",
        "cannot be read",
    }
    assert found.right


def test_pictures_that_take_too_long_are_named_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    real = asking.decode

    def slow_for_pictures(kind: str, blobs: Any, reported: Any, **more: Any) -> Any:
        return Undecoded("too_slow") if "draw" in reported else real(kind, blobs, reported, **more)

    monkeypatch.setattr(asking, "decode", slow_for_pictures)
    (found,) = problems(Upload("book.zip", zip_with_picture()))
    assert (found.sheet, found.row, found.column, found.found) == ("parts", 2, "picture", "cup.jpg")
    assert (found.wrong, found.right) == ("takes too long to read", "make the pictures smaller, and save them again")


def test_a_name_longer_than_a_disk_takes_is_not_beside_the_sheets(tmp_path: Path) -> None:
    name = "é" * 190 + ".png"
    (found,) = problems(write(tmp_path, parts=WITH_PICTURE.replace("cup.jpg", name)))
    assert (found.column, found.wrong) == ("picture", "is not beside the sheets")
