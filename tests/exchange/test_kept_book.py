"""A decoded workbook that lies beside its file says the same when it is read again."""

from __future__ import annotations

import datetime as dt
import zlib

import pytest

from tests.exchange.books import Upload, small_xlsx
from tests.exchange.test_in_a_child import zip_with_picture
from traveller.decode.wire import packed_message
from traveller.exchange.workbook import Problem, RawBook, read_raw
from traveller.exchange.workbook.kept_book import from_bytes, to_bytes
from traveller.exchange.workbook.raw import RawSheet, Unusable


@pytest.mark.parametrize("source", [("b.zip", zip_with_picture()), ("b.xlsx", small_xlsx()), ("b.zip", b"no zip")])
def test_what_was_decoded_is_the_same_again(source: tuple[str, bytes]) -> None:
    book = read_raw(Upload(*source))
    assert from_bytes(to_bytes(book, "d1"), "d1") == book


def test_every_kind_of_cell_and_fault_is_kept() -> None:
    cells = (
        "a", 1, 1.0, True, None, dt.date(2026, 1, 2), dt.time(6), dt.timedelta(days=1, seconds=2, microseconds=3),
        dt.datetime(2026, 1, 2, 3, 4), Unusable("=1", "wrong", "right"),  # noqa: DTZ001
    )  # fmt: skip
    book = RawBook(
        sheets={"lanes": RawSheet("lanes", "lanes.csv", ("from", "to"), ((7, cells),), ",")},
        picture_faults={"a.png": ("is a damaged picture", "save it again")},
        has_folder=False,
        problems=[Problem("lanes", 3, "to", "x", "wrong", "right")],
        warnings=[Problem("lanes", None, "", "", "odd", "")],
    )
    again = from_bytes(to_bytes(book, "d"), "d")
    assert again == book
    assert [type(cell) for cell in again.sheets["lanes"].rows[0][1]] == [type(cell) for cell in cells]


@pytest.mark.parametrize(
    "content", [b"", b"garbage", zlib.compress(b"{}"), zlib.compress(packed_message({"form": 0}, []))]
)
def test_what_belongs_to_another_file_or_release_is_not_believed(content: bytes) -> None:
    assert from_bytes(content, "d") is None
    assert from_bytes(to_bytes(RawBook(), "d"), "another") is None
