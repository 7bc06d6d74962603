"""A workbook in the child: what spreadsheets write is read as it is shown, and what was made to hurt ends early."""

from __future__ import annotations

import datetime as dt
import io
import struct
import zipfile
import zlib
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from tests.decode.books import SPACE, xlsx_of, zipped
from traveller.decode import Decoded, decode
from traveller.decode.book import bounds
from traveller.decode.book.cells import Numbered, Raw, Unusable, rows_from_json, rows_to_json
from traveller.decode.book.formats import is_date, is_duration
from traveller.decode.book.xlsx import read_sheets

STYLES = (
    '<numFmts><numFmt numFmtId="170" formatCode="yyyy\\-mm\\-dd"/><numFmt numFmtId="171" formatCode="[h]:mm"/>'
    '<numFmt numFmtId="172" formatCode="0.0&quot; days&quot;"/></numFmts>'
    '<cellStyleXfs><xf numFmtId="14"/></cellStyleXfs><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/>'
    '<xf numFmtId="170"/><xf numFmtId="171"/><xf numFmtId="172"/><xf numFmtId="20"/></cellXfs>'
)
TEXTS = (
    '<si><t>from</t></si><si><r><t>to</t></r><r><t> day</t></r><rPh sb="0" eb="1"><t>tu</t></rPh></si>'
    "<si><t>a_x005F_x000D_</t></si>"
)
ROWS = (
    '<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c><c r="D1" t="s"><v>2</v></c></row>'
    '<row r="5"><c r="A5"><v>12</v></c><c r="B5"><v>12.0</v></c><c r="C5" t="b"><v>1</v></c>'
    '<c r="D5" t="str"><f>A1</f><v>from</v></c><c r="E5" t="e"><v>#REF!</v></c><c r="F5"><f>A5+1</f></c>'
    '<c r="G5" s="1"><v>46024</v></c><c r="H5" s="2"><v>46024.5</v></c><c r="I5" s="3"><v>1.5</v></c>'
    '<c r="J5" s="4"><v>3</v></c><c r="K5" s="5"><v>0.25</v></c><c r="L5" t="d"><v>2026-01-02</v></c>'
    '<c r="M5" t="inlineStr"><is><r><t>in </t></r><r><t>line</t></r></is></c><c r="N5" s="1"><v>99999999</v></c></row>'
)


def asked(content: bytes, place: Path, *, form: str = "files", name: str = "b.xlsx", **more: Any) -> Decoded:
    reported = {"form": form, "names": [name], "sheets": ["lanes"], **more}
    answer = decode("book", [content], reported, place=place)
    assert isinstance(answer, Decoded), answer
    return answer


def wrong(content: bytes, place: Path, **more: Any) -> str:
    """What is said of a file that is refused whole, or of its one table."""
    facts = asked(content, place, **more).facts
    refused = facts.get("refused") or facts["tables"][0]["refused"]
    return str(refused[1])


def rows(content: bytes) -> list[Numbered]:
    return read_sheets(content, "b.xlsx", lambda title: True)[0][1]


def test_each_kind_of_cell_is_read_as_the_spreadsheet_shows_it(tmp_path: Path) -> None:
    answer = asked(xlsx_of(ROWS, texts=TEXTS, styles=STYLES), tmp_path)
    assert [(reported["title"], reported["refused"]) for reported in answer.facts["tables"]] == [("lanes", None)]
    head, row = rows_from_json(answer.blobs[0])
    assert head == (1, ("from", "to day", None, "a_x000D_"))
    assert row[0] == 5
    assert row[1] == (
        12, 12.0, True, "from",
        Unusable("#REF!", "is a spreadsheet error", "mend the formula or write the value"),
        Unusable("=A5+1", "is a formula whose result was never saved",
                 "open and save the file in a spreadsheet, or write the value"),
        dt.datetime(2026, 1, 2), dt.datetime(2026, 1, 2, 12), dt.timedelta(hours=36), 3, dt.time(6),  # noqa: DTZ001
        dt.date(2026, 1, 2), "in line",
        Unusable("#VALUE!", "is a spreadsheet error", "mend the formula or write the value"),
    )  # fmt: skip
    assert [type(cell) for cell in row[1][:3]] == [int, float, bool]


def test_days_of_the_other_calendar_count_from_1904() -> None:
    found = rows(xlsx_of('<row><c s="1"><v>44562</v></c></row>', styles=STYLES, since='date1904="1"'))
    assert found == [(1, (dt.datetime(2026, 1, 2),))]  # noqa: DTZ001


@pytest.mark.filterwarnings("ignore::UserWarning")
def test_a_workbook_made_by_hand_says_the_same_to_the_library_that_others_use() -> None:
    """An outside reader's opinion of every cell that holds a value."""
    content = xlsx_of(ROWS, texts=TEXTS, styles=STYLES)
    theirs = openpyxl.load_workbook(io.BytesIO(content), data_only=True)["lanes"]
    for number, row in rows(content):
        for column, cell in enumerate(row, start=1):
            if cell is not None and not isinstance(cell, Unusable):
                other = theirs.cell(number, column).value
                if isinstance(other, dt.datetime) and not isinstance(cell, dt.datetime):
                    other = other.date()
                assert (cell, type(cell)) == (other, type(other)), (number, column)


_EARLY, _LATE = dt.datetime(1901, 1, 1), dt.datetime(2199, 1, 1)  # noqa: DTZ001 - cells know no zone
_cells = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**14), 10**14),
    st.floats(allow_nan=False, allow_infinity=False, width=32),
    st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=9).filter(
        lambda text: not text.startswith("=")
    ),
    st.datetimes(_EARLY, _LATE).map(lambda at: at.replace(microsecond=0)),
    st.timedeltas(dt.timedelta(days=1), dt.timedelta(days=99)).map(
        lambda by: dt.timedelta(seconds=by // dt.timedelta(seconds=1))
    ),
)


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.lists(_cells, min_size=1, max_size=6), min_size=1, max_size=6))
def test_whatever_is_written_is_read_as_the_library_that_wrote_it_reads_it(drawn: list[list[Raw]]) -> None:
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    for row in drawn:
        page.append(row)
    out = io.BytesIO()
    book.save(out)
    theirs = openpyxl.load_workbook(io.BytesIO(out.getvalue()), data_only=True).worksheets[0]
    read = dict(rows(out.getvalue()))
    for number, row in enumerate(theirs.iter_rows(values_only=True), start=1):
        mine = read.get(number, ())
        padded = [*mine, *[None] * (len(row) - len(mine))]
        blank = all(cell is None or (isinstance(cell, str) and not cell.strip()) for cell in row)
        assert blank or [_close(cell) for cell in padded] == [_close(cell) for cell in row]
    assert rows_from_json(rows_to_json(list(read.items()))) == tuple(read.items())


def _close(cell: Any) -> Any:
    """Days are kept as fractions: what differs by less than a second is the same."""
    if isinstance(cell, dt.datetime):
        return (cell + dt.timedelta(milliseconds=500)).replace(microsecond=0)
    return dt.timedelta(seconds=round(cell.total_seconds())) if isinstance(cell, dt.timedelta) else cell


@pytest.mark.parametrize(
    ("code", "date", "duration"),
    [
        ("General", False, False),
        ("0.00E+00", False, False),
        ('#,##0 "days"', False, False),
        ("[Red]-0.0", False, False),
        ("[$-409]d\\-mmm\\-yy;@", True, False),
        ("hh:mm", True, False),
        ("[h]:mm:ss", True, True),
        ("[$\u20ac-407]\\ #,##0.00", False, False),
    ],
)
def test_a_number_format_shows_days_or_it_does_not(code: str, date: bool, duration: bool) -> None:
    assert (is_date(code), is_duration(code)) == (date, duration)


def test_a_million_empty_rows_are_passed_over_and_a_cell_far_below_is_read(tmp_path: Path) -> None:
    empty = "".join(f'<row r="{number}"/>' for number in range(1, 1_000_000))
    answer = asked(xlsx_of(empty + '<row r="1048576"><c r="C1048576"><v>1</v></c></row>'), tmp_path)
    assert rows_from_json(answer.blobs[0]) == ((1_048_576, (None, None, 1)),)


def test_more_rows_than_a_sheet_may_have_are_not_read_to_the_end() -> None:
    many = "".join(f"<row><c><v>{number}</v></c></row>" for number in range(bounds.ROWS_MAX + 2))
    content = xlsx_of(many + "<row><c><v>this is no number and never reached</v></c></row>")
    assert len(rows(content)) == bounds.ROWS_MAX + 2


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("<row>" + "<c/>" * 9_000_000 + "</row>", "unpacks to more than 250 times its size"),
        ('<row><c><v>1</v></c></row><row r="0"><c/></row>', "cannot be read as XLSX"),
        ("<row><c><v>none</v></c></row>", "cannot be read as XLSX"),
        ('<row><c t="s"><v>7</v></c></row>', "cannot be read as XLSX"),
        ('<row><c t="s"><v>-1</v></c></row>', "cannot be read as XLSX"),
        ("<row><c><v>" + "9" * 5_000 + "</v></c></row>", "cannot be read as XLSX"),
    ],
)
def test_a_sheet_that_was_made_to_hurt_is_refused_in_words(tmp_path: Path, rows: str, said: str) -> None:
    assert wrong(xlsx_of(rows), tmp_path).startswith(said)


def test_empty_cells_are_counted_as_they_pass(monkeypatch: pytest.MonkeyPatch) -> None:
    """The bound is made small here: passing over as many as it allows takes a child most of its seconds."""
    monkeypatch.setattr(bounds, "PLACES_MAX", 5_000)
    cells = "".join(f'<c r="A{number}"/>' for number in range(1, 5_200))
    with pytest.raises(bounds.BookRefused, match="holds more than 5,000 cells, most of them empty"):
        rows(xlsx_of(f"<row>{cells}</row>"))
    assert rows(xlsx_of("<row>" + "<c/>" * 4_000 + "</row>")) == []


def test_cells_and_letters_are_counted_over_all_sheets() -> None:
    counted = bounds.Counted()
    counted.add_cells(bounds.CELLS_MAX, 5)
    with pytest.raises(bounds.BookRefused, match="holds more than 1,000,000 cells"):
        counted.add_cells(1, 5)
    with pytest.raises(bounds.BookRefused, match="24 million letters"):
        bounds.Counted().add_characters(bounds.CHARACTERS_MAX + 1)


def test_one_text_named_by_many_cells_is_told_by_its_length() -> None:
    long = "x" * (bounds.LONG_TEXT + 1)
    found = rows(xlsx_of('<row><c t="s"><v>0</v></c><c><v>1e999</v></c></row>', texts=f"<si><t>{long}</t></si>"))
    assert found == [
        (1, (Unusable("x" * 60, "is 4,001 characters long", "at most 2,000"),
             Unusable("1e999", "is not a number", "write a number"))),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "part", ["xl/workbook.xml", "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/theme/theme1.xml"]
)
@pytest.mark.parametrize("letters", ["utf-8", "utf-16"])
def test_an_entity_is_refused_wherever_it_is_declared(tmp_path: Path, part: str, letters: str) -> None:
    remark = f"<!--{'x' * 90_000}-->"
    evil = f'{remark}<!DOCTYPE a [<!ENTITY b "bbbb">]><a {SPACE}>&b;</a>'
    content = xlsx_of("<row/>", parts={part: evil.encode(letters)})
    assert wrong(content, tmp_path) == "holds XML declarations that no spreadsheet writes"


@pytest.mark.parametrize(
    "evil",
    [
        '<!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/hostname">]><a>&x;</a>',
        "<!DOCTYPE a [<!ENTITY a 'ha'>"
        + "".join(f"<!ENTITY a{n} '&a{n - 1};&a{n - 1};'>" for n in range(1, 30))
        + "]><a/>",
    ],
)
def test_outside_and_growing_entities_are_refused(tmp_path: Path, evil: str) -> None:
    assert wrong(xlsx_of("", parts={"xl/worksheets/sheet1.xml": evil}), tmp_path) == (
        "holds XML declarations that no spreadsheet writes"
    )


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("from,to\n" + "," * 6_000_000, "line 2 has more than 200,000 letters"),
        ("from,to\n" + ",".join("a" * 61), "row 2 has more than 60 columns"),
        ('from,to\n"' + "a\n" * 100_000, "cannot be read near line"),
        ("from,to\n" + ",,,,,,,,,\n" * 200_000, "holds more than 1,500,000 cells"),
        ("from,to\n\0", "is not a text file"),
    ],
)
def test_a_table_that_was_made_to_hurt_is_refused_in_words(tmp_path: Path, table: str, said: str) -> None:
    assert wrong(table.encode(), tmp_path, name="lanes.csv").startswith(said)


def test_rows_that_show_nothing_do_not_push_out_those_that_do(tmp_path: Path) -> None:
    table = "from,to\n" + ", \n" * 30_000 + "mill,bench\n"
    answer = asked(table.encode(), tmp_path, name="lanes.csv")
    assert rows_from_json(answer.blobs[0]) == ((1, ("from", "to")), (30_002, ("mill", "bench")))


def test_a_zip_of_zeros_is_refused_by_how_much_it_grows(tmp_path: Path) -> None:
    bomb = zipped({"lanes.csv": bytes(19 * bounds.MEGABYTE)})
    assert wrong(bomb, tmp_path, form="zip", name="b.zip") == "unpacks to more than 250 times its size"


def test_a_zip_of_too_many_names_and_a_locked_one_are_refused(tmp_path: Path) -> None:
    assert wrong(zipped({f"{n}.csv": b"" for n in range(1001)}), tmp_path, form="zip", name="b.zip") == (
        "holds 1,001 files"
    )
    locked = bytearray(zipped({"lanes.csv": b"from,to\n"}))
    locked[locked.index(b"PK\x01\x02") + 8] |= 1
    assert wrong(bytes(locked), tmp_path, form="zip", name="b.zip") == "is protected by a password"


def test_a_name_in_the_letters_of_old_zips_is_read(tmp_path: Path) -> None:
    old = bytearray(zipped({"lanes.csv": "from,to\n", "é.pdf": ""}))
    old = old.replace("é".encode(), b"\x82\x82")
    at = [place for place in range(len(old)) if bytes(old[place : place + 4]) in (b"PK\x01\x02", b"PK\x03\x04")]
    for place in at:
        old[place + (9 if old[place + 2] == 1 else 7)] &= 0xF7
    assert "éé.pdf" in asked(bytes(old), tmp_path, form="zip", name="b.zip").facts["names"]


def drawn(content: bytes, place: Path) -> Image.Image | list[str]:
    """The picture as the child gives it back, or what it says of it."""
    answer = asked(content, place, name="a.png", draw=["a.png"])
    fault = answer.facts["drawn"][0]
    return fault if fault else Image.open(io.BytesIO(answer.blobs[0]))


def saved(image: Image.Image, form: str, **more: Any) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **more)
    return out.getvalue()


def test_a_part_picture_loses_place_camera_and_remarks_and_keeps_its_form(tmp_path: Path) -> None:
    reported = Image.Exif()
    reported[0x0112], reported[0x010F] = 6, "a camera"
    reported.get_ifd(0x8825)[1] = "N"
    photo = drawn(saved(Image.new("RGB", (60, 20), "teal"), "JPEG", exif=reported, comment=b"here"), tmp_path)
    assert isinstance(photo, Image.Image)
    assert (photo.format, photo.size, dict(photo.getexif())) == ("JPEG", (20, 60), {})
    assert "comment" not in photo.info and "exif" not in photo.info
    text = PngInfo()
    text.add_text("Author", "somebody")
    clear = Image.new("RGBA", (30, 10), (200, 30, 0, 60))
    drawing = drawn(saved(clear, "PNG", pnginfo=text, exif=reported), tmp_path)
    assert isinstance(drawing, Image.Image)
    assert (drawing.format, drawing.mode, drawing.size) == ("PNG", "RGBA", (10, 30))
    assert drawing.getpixel((0, 0)) == (200, 30, 0, 60)
    assert not set(drawing.info) & {"Author", "exif"}


def test_a_part_picture_is_no_larger_than_page_and_paper_need(tmp_path: Path) -> None:
    large = drawn(saved(Image.new("RGB", (3000, 1500), "teal"), "JPEG"), tmp_path)
    assert isinstance(large, Image.Image) and large.size == (1200, 600)


@pytest.mark.parametrize("form", ["PNG", "JPEG"])
def test_what_was_redrawn_once_stays_as_it_is(tmp_path: Path, form: str) -> None:
    photo = Image.effect_noise((1500, 900), 60).convert("RGB")
    once = asked(saved(photo, form, quality=60), tmp_path, name="a", draw=["a"]).blobs[0]
    assert len(once) <= bounds.PICTURE_BYTES_MAX
    assert asked(once, tmp_path, name="a", draw=["a"]).blobs == [once]


def test_what_is_hidden_behind_the_end_of_a_picture_is_gone(tmp_path: Path) -> None:
    for form in ("PNG", "JPEG"):
        plain = saved(Image.new("RGB", (9, 9), "teal"), form)
        answer = asked(plain + b"<script>", tmp_path, name="a", draw=["a"])
        assert answer.facts["drawn"] == [None] and b"<script>" not in answer.blobs[0]
        assert asked(plain, tmp_path, name="a", draw=["a"]).blobs == [plain]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n%%EndComments\n{} loop\n", "is not a picture"),
        (saved(Image.new("RGB", (9, 9)), "WEBP"), "is not a picture"),
        (saved(Image.new("RGB", (9, 9)), "GIF"), "is not a picture"),
        (saved(Image.new("RGB", (90, 90)), "JPEG")[:300], "is a damaged picture"),
        (saved(Image.new("RGB", (7000, 4000)), "PNG"), "has 7,000 by 4,000 points"),
        (saved(Image.new("I;16", (1300, 4)), "PNG"), "has 16 bits for each point's grey"),
        (bytes(bounds.PICTURE_BYTES_MAX + 1), "is larger than 2 MB"),
    ],
)
def test_what_is_no_part_picture_is_said_in_words(tmp_path: Path, content: bytes, said: str) -> None:
    found = drawn(content, tmp_path)
    assert isinstance(found, list) and found[0] == said and found[1]


def test_a_text_chunk_that_unpacks_hugely_is_no_picture(tmp_path: Path) -> None:
    plain = saved(Image.new("RGB", (9, 9)), "PNG")
    body = b"zTXt" + b"a\0\0" + zlib.compress(bytes(64 * bounds.MEGABYTE))
    chunk = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    found = drawn(plain[:33] + chunk + plain[33:], tmp_path)
    assert isinstance(found, Image.Image) or found[0] == "is a damaged picture"


def test_a_sheet_part_that_is_not_there_is_said(tmp_path: Path) -> None:
    whole = xlsx_of("<row/>")
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        rest = {name: archive.read(name) for name in archive.namelist() if "sheet1" not in name}
    assert wrong(zipped(rest), tmp_path) == "cannot be read as XLSX"
