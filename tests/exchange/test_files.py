"""Real files: encodings, separators, zips, XLSX, and files that must be refused before they hurt."""

from __future__ import annotations

import datetime as dt
import io
import struct
import zipfile
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.exchange.books import SMALL, Upload, cell_date, png, problems, read, small_xlsx, texts, write, xlsx
from traveller.decode.book.tables import table_rows
from traveller.exchange.workbook import Workbook, folders


def zipped(files: dict[str, bytes], prefix: str = "") -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(prefix + name, content)
    return out.getvalue()


def as_files() -> dict[str, bytes]:
    return {f"{name}.csv": text.encode() for name, text in SMALL.items()}


@pytest.fixture
def small(tmp_path: Path) -> Workbook:
    return read(write(tmp_path / "small"))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_any_usual_encoding_is_read(tmp_path: Path, encoding: str) -> None:
    sites = SMALL["sites"].replace("The mill", "Mühle Größ")
    workbook = read(write(tmp_path, sites=sites.encode(encoding)))
    assert workbook.sites[1].name == "Mühle Größ"
    assert [warning.wrong for warning in workbook.warnings] == (
        ["is not UTF-8 and was read as Windows-1252"] if encoding == "cp1252" else []
    )


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_utf16_of_either_order_is_read_by_its_mark(tmp_path: Path, encoding: str, small: Workbook) -> None:
    content = ("\ufeff" + SMALL["parts"]).encode(encoding)
    assert read(write(tmp_path / "again", parts=content)) == small


@pytest.mark.parametrize("separator", [";", "\t", "|"])
def test_any_usual_separator_is_read(tmp_path: Path, separator: str, small: Workbook) -> None:
    changed = {name: text.replace(",", separator) for name, text in SMALL.items() if name != "checks"}
    assert read(write(tmp_path / "again", **changed)) == small


def test_a_separator_line_that_spreadsheets_hide_is_not_counted(tmp_path: Path) -> None:
    bad = "sep=;\npart;component;quantity;unit;per;step\nCUP;CLAY;250;kg;1000;10\nCUP;LIDD;1;piece;1;pack\n"
    found = problems(write(tmp_path, bills=bad))
    assert [(each.row, each.found, each.right) for each in found] == [(3, "LIDD", "did you mean LID?")]


def test_decimal_commas_and_thousands_marks_follow_the_files_habit(tmp_path: Path) -> None:
    bills = "part;component;quantity;unit;per;step\nCUP;CLAY;0,250;kg;1;10\nCUP;LID;1.000;piece;1.000;pack\n"
    stock = "part;lot;site;quantity;unit;received\nCLAY;C-9;mill;1.080,5;kg;02.01.2026\n"
    workbook = read(write(tmp_path, bills=bills, stock=stock))
    assert [row.quantity for row in workbook.bills] == [Decimal("0.25"), Decimal(1000)]
    assert workbook.bills[1].per == 1000
    assert workbook.stock[0].quantity == Decimal("1080.5")
    assert workbook.stock[0].received == dt.date(2026, 1, 2)


def test_heads_in_any_case_trailing_blanks_and_blank_rows_do_no_harm(tmp_path: Path, small: Workbook) -> None:
    parts = (
        "\n Part ,NAME,Kind,unit ,Supplier,Picture,,\n\nCUP ,Cup,Made, piece,,,,\n,,,,,,,\n"
        "LID,Lid,bought,piece,mill,,,\nCLAY,Clay,material,g,mill\n"
    )
    again = read(write(tmp_path / "again", parts=parts))
    assert again == small
    assert [row.row for row in again.parts] == [4, 6, 7]


def test_rows_are_counted_as_a_spreadsheet_counts_them_even_after_a_cell_of_two_lines(tmp_path: Path) -> None:
    sites = SMALL["sites"].replace(
        "site,name,kind,timezone\nbench,Own bench,own,America/New_York",
        'site,name,kind,timezone,address\nbench,Own bench,own,America/New_York,"1 Long Row\nElm"',
    )
    found = problems(write(tmp_path, sites=sites.replace("Europe/London", "Europe/Londn")))
    assert [(each.row, each.column, each.right) for each in found] == [(3, "timezone", "did you mean Europe/London?")]


def test_a_formula_in_a_csv_is_no_value(tmp_path: Path) -> None:
    found = texts(write(tmp_path, parts=SMALL["parts"].replace("Cup,made", "=A1,made")))
    assert found == ['parts row 2, column name: "=A1" is a formula, not a value; write the value']


def test_quotation_marks_that_never_close_are_named_with_their_line(tmp_path: Path) -> None:
    found = problems(write(tmp_path, lanes='from,to,transit_days\nmill,"bench,2\n'))
    assert [each.sheet for each in found] == ["lanes"]
    assert "check the quotation marks" in found[0].right


def test_a_binary_file_called_csv_is_refused(tmp_path: Path) -> None:
    found = texts(write(tmp_path, lanes=b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"))
    assert found == ["lanes: is not a text file; save the sheet as CSV UTF-8"]


def test_an_xlsx_says_the_same_as_the_folder(tmp_path: Path, small: Workbook) -> None:
    path = tmp_path / "book.xlsx"
    path.write_bytes(small_xlsx())
    assert read(path) == small
    assert read(Upload("book.XLSX", small_xlsx())) == small


def test_xlsx_numbers_and_dates_are_read_as_they_are_shown() -> None:
    stock: list[list[Any]] = [["part", "lot", "site", "quantity", "unit", "received"]]
    stock.append(["CLAY", 20260105.0, "mill", 80.5, "kg", cell_date(2026, 1, 2)])
    parts: list[list[Any]] = [["part", "name", "kind", "unit", "supplier"], ["CUP", 12.0, "made", None, None]]
    parts += [["LID", "Lid", "bought", "piece", "mill"], ["CLAY", "Clay", "material", "g", "mill"]]
    workbook = read(Upload("book.xlsx", small_xlsx(stock=stock, parts=parts)))
    assert workbook.parts[0].name == "12"
    assert workbook.parts[0].unit == "piece"
    assert workbook.stock[0].lot == "20260105"
    assert workbook.stock[0].quantity == Decimal("80.5")
    assert workbook.stock[0].received == dt.date(2026, 1, 2)


def test_a_formula_that_was_never_calculated_is_named_and_text_that_looks_like_one_is_not() -> None:
    parts: list[list[Any]] = [["part", "name", "kind", "unit", "supplier"], ["CUP", '="a"&"b"', "made", "piece", ""]]
    parts += [["LID", "Lid", "bought", "piece", "mill"], ["CLAY", "Clay", "material", "g", "mill"]]
    found = problems(Upload("book.xlsx", small_xlsx(parts=parts)))
    assert [(each.row, each.column, each.wrong) for each in found] == [
        (2, "name", "is a formula whose result was never saved")
    ]


def test_a_zip_of_files_or_of_their_folder_is_read(small: Workbook) -> None:
    litter = {"__MACOSX/._sites.csv": b"\0\0", ".DS_Store": b"\0"}
    assert read(Upload("book.zip", zipped({**as_files(), **litter}))) == small
    assert read(Upload("book.zip", zipped(as_files(), prefix="my products/"))) == small


def test_a_zip_of_an_xlsx_brings_its_pictures() -> None:
    parts: list[list[Any]] = [
        ["part", "name", "kind", "unit", "supplier", "picture"],
        ["CUP", "Cup", "made", "piece", "", "cup.png"],
    ]
    parts += [["LID", "Lid", "bought", "piece", "mill", ""], ["CLAY", "Clay", "material", "g", "mill", ""]]
    content = small_xlsx(parts=parts)
    workbook = read(Upload("book.zip", zipped({"book.xlsx": content, "Cup.PNG": png()})))
    assert workbook.pictures == {"cup.png": png()}
    alone = read(Upload("book.xlsx", content))
    assert alone.pictures == {}
    assert [(each.column, each.wrong) for each in alone.warnings] == [("picture", "did not come with the XLSX")]


@pytest.mark.parametrize(
    ("name", "content", "wrong"),
    [
        ("book.xlsx", b"", "is empty"),
        ("book.xlsx", b"not a zip", "is not a readable zip or XLSX file"),
        ("book.pdf", b"%PDF-1.7", "is not a workbook"),
        ("", b"x", "is not a workbook"),
        ("book.zip", zipped({"notes.pdf": b"x"}), "holds no sheets"),
        ("book.zip", zipped({"../sites.csv": b"x"}), "holds no sheets"),
        # A NUL ends the name of a member: this one has none.
        ("book.zip", zipped({"?sites.csv": b"x"}).replace(b"?sites.csv", b"\0sites.csv"), "holds no sheets"),
        ("book.xlsx", zipped(as_files()), "is not an XLSX workbook"),
        ("book.zip", zipped({"a.xlsx": b"x", "sites.csv": b"x"}), "holds more than one workbook (a.xlsx, sites.csv)"),
        ("book.zip", zipped({f"{n}.csv": b"" for n in range(1200)}), "holds 1,200 files"),
    ],
)
def test_what_is_no_workbook_is_refused_in_words(name: str, content: bytes, wrong: str) -> None:
    found = problems(Upload(name, content))
    assert [each.wrong for each in found] == [wrong]
    assert found[0].right


def test_a_folder_that_is_not_there_is_refused_in_words(tmp_path: Path) -> None:
    assert [each.wrong for each in problems(tmp_path / "nowhere")] == ["does not exist"]
    assert [each.wrong for each in problems(tmp_path)] == ["holds no sheets"]


def test_a_zip_that_would_fill_the_memory_is_refused_before_it_is_unpacked() -> None:
    bomb = zipped({"sites.csv": bytes(folders.UNPACKED_BYTES_MAX + 1)})
    assert len(bomb) < 1_000_000
    assert [each.wrong for each in problems(Upload("book.zip", bomb))] == ["would unpack to 80 MB"]
    assert [each.wrong for each in problems(Upload("book.xlsx", bomb))] == ["would unpack to 80 MB"]


def test_a_zip_that_lies_about_its_sizes_is_cut_off() -> None:
    honest = zipped({"sites.csv": bytes(30 * 1024 * 1024)})
    size = struct.pack("<I", 30 * 1024 * 1024)
    lying = honest.replace(size, struct.pack("<I", 100))
    assert lying != honest
    assert ("sites", "cannot be unpacked") in [(each.sheet, each.wrong) for each in problems(Upload("book.zip", lying))]


def test_a_huge_upload_is_not_read_to_its_end() -> None:
    class Endless(Upload):
        def read(self, size: int | None = -1, /) -> bytes:
            assert size is not None
            assert 0 < size <= folders.FILE_BYTES_MAX + 1
            return bytes(size)

    assert [each.wrong for each in problems(Endless("book.xlsx", b""))] == ["is larger than 20 MB"]


def test_xml_entities_in_an_xlsx_are_refused() -> None:
    evil = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "bbbb">]><workbook/>'
    content = zipped({"xl/workbook.xml": evil, "[Content_Types].xml": b"<Types/>"})
    assert [each.wrong for each in problems(Upload("book.xlsx", content))] == [
        "holds XML declarations that no spreadsheet writes"
    ]


def test_a_damaged_xlsx_is_refused_in_words() -> None:
    content = zipped({"xl/workbook.xml": b"<workbook", "[Content_Types].xml": b"<Types/>"})
    assert [each.wrong for each in problems(Upload("book.xlsx", content))] == ["cannot be read as XLSX"]


def test_a_cell_at_the_far_corner_of_a_sheet_costs_nothing() -> None:
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(small_xlsx()))
    book["lanes"]["XFD200000"] = " "
    out = io.BytesIO()
    book.save(out)
    assert len(read(Upload("book.xlsx", out.getvalue())).lanes) == 1


def test_too_many_rows_are_refused_in_words(tmp_path: Path) -> None:
    lanes = "from,to,transit_days\n" + "mill,bench,2\n" * 20_001
    found = problems(write(tmp_path, lanes=lanes))
    assert [(each.sheet, each.wrong) for each in found] == [("lanes", "has more than 20,000 rows")]


def test_two_sheets_of_one_name_are_refused() -> None:
    rows = {"sites": [["site"]], "Sites ": [["site"]]}
    found = problems(Upload("book.xlsx", xlsx(rows)))
    assert ("sites", "is there twice") in [(each.sheet, each.wrong) for each in found]


def test_the_mark_to_expect_follows_the_separator() -> None:
    assert table_rows("a,b\n1,2\n")[0] == "."
    assert table_rows("a;b\n1;2\n")[0] == ","
    assert table_rows("a\tb\n1\t2\n")[0] is None
