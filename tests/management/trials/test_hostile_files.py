"""The hostile files: made by code from a seed, and counted only when they cost a bare decoder something."""

from __future__ import annotations

import gzip
import io
import warnings
import zipfile
import zlib
from pathlib import Path

import openpyxl
import pytest
from PIL import Image

from traveller.management.trials.hostile import cost
from traveller.management.trials.hostile.cost import Cost, cost_of
from traveller.management.trials.hostile.files import Hostile, every_kind, made
from traveller.management.trials.hostile.files.exif import fractions
from traveller.management.trials.hostile.files.packed import gzip_zeros, raw_zeros, zlib_zeros
from traveller.management.trials.hostile.files.png import png
from traveller.management.trials.hostile.files.sheets import hostile_workbook, rows
from traveller.management.trials.hostile.files.zip_writing import by_hand, text, zeros

SMALL = 0.002


def kind(name: str) -> Hostile:
    return next(one for one in every_kind() if one.name == name)


def harmless(content: bytes) -> Hostile:
    return Hostile("harmless", "a small picture", "picture", ".png", False, lambda rng, scale: content)


@pytest.mark.parametrize("one", every_kind(), ids=lambda one: one.name)
def test_a_file_is_the_same_for_the_same_seed(one: Hostile) -> None:
    first = made(one, 7, SMALL)
    assert first == made(one, 7, SMALL)
    assert first and one.words and one.suffix.startswith(".")


def test_a_file_that_is_drawn_at_random_is_another_for_another_seed() -> None:
    assert made(kind("jpeg-cut-off"), 7) != made(kind("jpeg-cut-off"), 8)


def test_there_are_all_the_kinds_that_were_found_before_and_many_more() -> None:
    known = {one.name for one in every_kind() if one.known}
    own = [one for one in every_kind() if not one.known]
    assert {"eps-endless", "pdf-slow-blend", "log-commas", "png-59-megapixels", "xlsx-million-rows"} <= known
    assert len(known) >= 28 and len(own) >= 100


@pytest.mark.parametrize("size", [0, 1, 1 << 20, 3_000_001])
def test_zeros_are_packed_rightly_without_packing_them(size: int) -> None:
    assert zlib.decompress(zlib_zeros(size)) == bytes(size)
    assert zlib.decompress(raw_zeros(size), -15) == bytes(size)
    assert gzip.decompress(gzip_zeros(size)) == bytes(size)


def test_what_is_hostile_by_its_size_alone_is_otherwise_a_sound_file() -> None:
    """Else a decoder would turn it away for a reason that has nothing to do with its size."""
    with Image.open(io.BytesIO(made(kind("png-59-megapixels"), 1, SMALL))) as picture:
        assert picture.convert("L").getextrema() == (0, 0)
    for name in ("jpeg-88-megapixels", "jpeg-thousand-scans", "webp-one-colour", "sgi-runs", "psd-runs", "tiff-vast"):
        with Image.open(io.BytesIO(made(kind(name), 1, SMALL))) as picture:
            picture.load()
    with zipfile.ZipFile(
        io.BytesIO(by_hand([zeros("a", 5_000_000), text("b", b"<", b"abc", 1_000_000, b">")]))
    ) as archive:
        assert archive.testzip() is None
    warnings.simplefilter("ignore")  # it has no styles, and that is said
    book = openpyxl.load_workbook(
        io.BytesIO(hostile_workbook(rows(b"", b"<row><c><v>1</v></c></row>", 3))), read_only=True
    )
    assert [[cell.value for cell in row] for row in book["parts"].iter_rows()] == [["part", "name"], [1], [1], [1]]


def test_a_file_that_costs_nothing_does_not_count(tmp_path: Path) -> None:
    content = png(8, 8)
    assert cost_of(harmless(content), content, tmp_path).why == ""


def test_a_text_that_is_no_picture_costs_nothing_either(tmp_path: Path) -> None:
    content = b"2026-11-20, 20\n"
    spent = cost_of(harmless(content), content, tmp_path)
    assert (spent.fault, spent.why) == (cost.UNKNOWN_KIND, "")


def test_an_exception_of_the_decoder_counts(tmp_path: Path) -> None:
    one = kind("jpeg-cut-off")
    spent = cost_of(one, made(one, 7), tmp_path)
    assert (spent.fault, spent.why) == ("OSError", "exception")


def test_memory_of_the_decoder_counts(tmp_path: Path) -> None:
    content = png(5000, 5000, 16, 6)
    spent = cost_of(harmless(content), content, tmp_path)
    assert 100 * cost.MB < spent.bytes < 400 * cost.MB


def test_a_decoder_that_takes_too_long_is_ended_and_its_time_counts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cost, "ENOUGH_S", 0.5)
    content = made(kind("png-million-chunks"), 7)
    spent = cost_of(harmless(content), content, tmp_path)
    assert spent.stopped and 0.5 <= spent.seconds < 20


@pytest.mark.parametrize(
    ("spent", "why"),
    [
        (Cost(1.9, 299 * cost.MB), ""),
        (Cost(2.0, 0), "time"),
        (Cost(0.0, 300 * cost.MB), "memory"),
        (Cost(9.0, 900 * cost.MB, "MemoryError"), "time + memory + exception"),
    ],
)
def test_two_seconds_or_300_megabytes_or_an_exception_are_a_cost(spent: Cost, why: str) -> None:
    assert spent.why == why


def test_a_picture_to_be_turned_says_so_and_brings_its_fractions() -> None:
    with Image.open(io.BytesIO(made(kind("png-fractions"), 1, SMALL))) as picture:
        assert picture.getexif()[0x0112] == 6
    assert len(fractions(10)) == len(fractions(0)) + 80
