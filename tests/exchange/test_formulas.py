"""No cell of an exported workbook is run by the spreadsheet that opens it; what was guarded is read back as it was."""

from __future__ import annotations

import csv
import dataclasses
import io
import zipfile
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.exchange.books import Upload, read
from traveller.exchange.workbook import Workbook, as_zip, write_xlsx
from traveller.exchange.workbook.cells import needs_guard, to_text
from traveller.exchange.workbook.rows import SiteRow
from traveller.exchange.workbook.writing import _csv_cell

RUN = '=HYPERLINK("https://elsewhere.example","call")'
STARTS = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
BEFORE = (
    "",
    " ",
    "\t",
    "\r",
    "\n",
    "\r\n",
    " \t ",
    "\u00a0",
    "\u202f",
    "\u3000",
    "\ufeff",
    "\u200b",
    "\v",
    "\f",
    "\x1c",
)


def book(name: str) -> Workbook:
    site = SiteRow(
        site="bench", name=name, kind="own", timezone="Europe/London", language="en", country="GB", address="",
        phone="", contact="", paper="A4", turnaround_days=1, shifts="Mo-Fr 08:00-16:30",
    )  # fmt: skip
    return Workbook(sites=(site,))


def ends_as_written(text: str) -> str:
    """Every line's end is written as one line feed."""
    return text.replace("\r\n", "\n").replace("\r", "\n")


def csv_rows(workbook: Workbook) -> list[list[str]]:
    with zipfile.ZipFile(io.BytesIO(as_zip(workbook))) as archive:
        text = archive.read("sites.csv").decode("utf-8-sig")
    return list(csv.reader(io.StringIO(text, newline="")))


@pytest.mark.parametrize("before", BEFORE)
@pytest.mark.parametrize("sign", STARTS)
def test_a_name_that_would_be_run_is_guarded_whatever_stands_before_its_sign(before: str, sign: str) -> None:
    name = f"{before}{sign}1+1"
    head, row = csv_rows(book(name))
    assert row[head.index("name")] == f"'{ends_as_written(name)}"


@pytest.mark.parametrize("name", ["\tKolm", "\rKolm", "\nKolm", "'Kolm", "'=Kolm", "''"])
def test_so_is_a_tab_a_line_end_and_the_guard_itself(name: str) -> None:
    head, row = csv_rows(book(name))
    assert row[head.index("name")] == f"'{ends_as_written(name)}"


@pytest.mark.parametrize("name", ["Kolm", " Kolm", "Kolm = Sons", "a-b", "12", "«=»", "张伟", "(=1)", ""])
def test_what_is_no_formula_stands_as_it_is(name: str) -> None:
    head, row = csv_rows(book(name))
    assert row[head.index("name")] == name


@given(
    st.text(
        st.sampled_from(["'", "=", "+", "-", "@", "＝", " ", "\t", "\r", "\n", "\u00a0", "\u200b", "a", "1"]),
        max_size=6,
    )
)
def test_every_text_that_is_written_is_read_back_as_it_would_be_without_the_guard(text: str) -> None:
    written = _csv_cell(text)
    assert written == ends_as_written(text) or written == f"'{ends_as_written(text)}"
    assert written.startswith("'") or not needs_guard(written)
    # Behind a letter nothing is a guard; the reader tidies what comes then in the same way.
    assert to_text(written) == to_text(f"x{text}")[1:].strip()


@pytest.mark.parametrize(
    "name", [RUN, "+1 330 555 0110", "@here", "-40", "'=1", "'quoted", "''", "＝1", "'＝1", "' =1"]
)
def test_a_name_comes_back_from_csv_and_from_xlsx_as_it_was(name: str, tmp_path: Path) -> None:
    assert read(Upload("book.zip", as_zip(book(name)))) == book(name)
    write_xlsx(book(name), tmp_path / "book.xlsx")
    assert read(tmp_path / "book.xlsx") == book(name)


@pytest.mark.parametrize("name", ["\t=1+1", "\r=1+1", "\r\n\t@sum", " =1+1"])
def test_of_a_name_that_no_workbook_could_have_brought_only_the_blanks_at_its_edges_are_lost(name: str) -> None:
    tidy = dataclasses.replace(book(name).sites[0], name=name.strip())
    assert read(Upload("book.zip", as_zip(book(name)))).sites == (tidy,)


def test_an_xlsx_holds_no_formula_and_no_character_that_it_cannot_hold(tmp_path: Path) -> None:
    write_xlsx(book(f"{RUN}\x01\x0b\x1f"), tmp_path / "book.xlsx")
    page = openpyxl.load_workbook(tmp_path / "book.xlsx")["sites"]
    cells = [cell for row in page.iter_rows(min_row=2) for cell in row]
    assert "f" not in {cell.data_type for cell in cells}
    assert RUN in [cell.value for cell in cells]
