"""Whatever is uploaded, the answer is a workbook or a list of problems, never a fault of the program."""

from __future__ import annotations

import io
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.exchange.books import SMALL, Upload, small_xlsx
from traveller.exchange.workbook import Problem, Workbook, read_workbook

XLSX = small_xlsx()
_names = st.sampled_from(["book.xlsx", "book.zip", "sites.csv", "", "x" * 300 + ".zip", "\0.xlsx"])
_cells = st.one_of(
    st.sampled_from(
        ["", "CUP", "10", "=1", "1,5", "2026-01-05", "mill", "pack", '"', "\0", "9" * 40, "-1", "kg", "#REF!"]
    ),
    st.text(max_size=5),
)


def answered(upload: Upload) -> None:
    found = read_workbook(upload)
    if isinstance(found, list):
        assert found
        assert all(isinstance(each, Problem) and each.wrong for each in found)
    else:
        assert isinstance(found, Workbook)


@pytest.mark.long
@settings(max_examples=60)
@given(_names, st.binary(max_size=300))
def test_random_bytes_are_answered(name: str, content: bytes) -> None:
    answered(Upload(name, content))


@pytest.mark.long
@settings(max_examples=60)
@given(st.integers(0, len(XLSX) - 1), st.binary(min_size=1, max_size=40))
def test_a_damaged_xlsx_is_answered(at: int, noise: bytes) -> None:
    answered(Upload("book.xlsx", XLSX[:at] + noise + XLSX[at + len(noise) :]))


@pytest.mark.long
@settings(max_examples=60)
@given(st.sampled_from(sorted(SMALL)), st.integers(0, 3), st.integers(0, 8), _cells)
def test_any_cell_spoiled_is_answered(sheet: str, row: int, column: int, cell: str) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, text in SMALL.items():
            lines = [line.split(",") for line in text.strip().split("\n")]
            if name == sheet:
                line = lines[row % len(lines)]
                line[column % len(line)] = cell
            archive.writestr(f"{name}.csv", "\n".join(",".join(line) for line in lines))
    answered(Upload("book.zip", out.getvalue()))
