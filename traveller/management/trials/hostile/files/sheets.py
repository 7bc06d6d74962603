"""XLSX workbooks: rows, sheets, texts and styles by the hundred thousand, and declarations that blow up."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from traveller.management.trials.hostile.files.kinds import hostile, some
from traveller.management.trials.hostile.files.zip_writing import Member, by_hand, text

MAIN = b'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
LINKS = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships"
XML = b'<?xml version="1.0" encoding="UTF-8"?>'
TYPES = (
    XML + b'<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    b'<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    b'<Default Extension="xml" ContentType="application/xml"/>'
    b'<Override PartName="/xl/workbook.xml" ContentType='
    b'"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>'
    b'<Override PartName="/xl/worksheets/sheet1.xml" ContentType='
    b'"application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>'
    b'<Override PartName="/xl/sharedStrings.xml" ContentType='
    b'"application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"/>'
    b'<Override PartName="/xl/styles.xml" ContentType='
    b'"application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"/></Types>'
)
SHEET = b"<worksheet " + MAIN + b"><sheetData>"
SHEET_END = b"</sheetData></worksheet>"
HEAD_ROW = b'<row r="1"><c t="inlineStr"><is><t>part</t></is></c><c t="inlineStr"><is><t>name</t></is></c></row>'


def _plain(name: str, content: bytes) -> Member:
    return text(name, b"", content, 1, b"")


def links(*rows: tuple[bytes, bytes]) -> bytes:
    inner = b"".join(
        b'<Relationship Id="r%d" Type="%s/%s" Target="%s"/>' % (number, LINKS, kind, target)
        for number, (kind, target) in enumerate(rows, start=1)
    )
    return (
        XML
        + b'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        + inner
        + b"</Relationships>"
    )


def hostile_workbook(
    sheet: Member | None = None,
    others: Sequence[Member] = (),
    *,
    sheets: bytes = b'<sheet name="parts" sheetId="1" r:id="r1"/>',
    more: bytes = b"",
) -> bytes:
    """A workbook of one sheet, by name `parts`, with whatever else it is said to hold."""
    book = (
        XML
        + b"<workbook "
        + MAIN
        + b' xmlns:r="'
        + LINKS
        + b'"><sheets>'
        + sheets
        + b"</sheets>"
        + more
        + b"</workbook>"
    )
    members = [
        _plain("[Content_Types].xml", TYPES),
        _plain("_rels/.rels", links((b"officeDocument", b"xl/workbook.xml"))),
        _plain("xl/workbook.xml", book),
        _plain("xl/_rels/workbook.xml.rels", links((b"worksheet", b"worksheets/sheet1.xml"),
              (b"sharedStrings", b"sharedStrings.xml"), (b"styles", b"styles.xml"))),
        sheet or _plain("xl/worksheets/sheet1.xml", SHEET + HEAD_ROW + SHEET_END),
        *others,
    ]  # fmt: skip
    there = {member.name for member in members}
    if b"xl/sharedStrings.xml" not in there:
        members.append(_plain("xl/sharedStrings.xml", b"<sst " + MAIN + b"/>"))
    if b"xl/styles.xml" not in there:
        members.append(_plain("xl/styles.xml", b"<styleSheet " + MAIN + b"/>"))
    return by_hand(members)


def rows(before: bytes, row: bytes, times: int, after: bytes = b"") -> Member:
    """The sheet, made of one row again and again."""
    return text("xl/worksheets/sheet1.xml", SHEET + HEAD_ROW + before, row, times, after + SHEET_END)


def declared(declarations: bytes, cell: bytes, before: bytes = b"") -> Member:
    """A sheet whose one cell uses what was declared at its head."""
    body = XML + before + b"<!DOCTYPE worksheet [" + declarations + b"]>" + SHEET + HEAD_ROW
    body += b'<row r="2"><c t="inlineStr"><is><t>' + cell + b"</t></is></c></row>" + SHEET_END
    return _plain("xl/worksheets/sheet1.xml", body)


@hostile("workbook", ".xlsx", known=True)
def xlsx_external_entity(rng: Random, scale: float) -> bytes:
    """A cell that is a file of the server's."""
    return hostile_workbook(declared(b'<!ENTITY a SYSTEM "file:///etc/hostname">', b"&a;"))


@hostile("workbook", ".xlsx", known=True)
def xlsx_entity_behind_comment(rng: Random, scale: float) -> bytes:
    """An entity used 20,000 times, behind a comment of 5 KB."""
    comment = b"<!--" + b" " * 5000 + b"-->"
    return hostile_workbook(declared(b'<!ENTITY a "' + b"a" * 1000 + b'">', b"&a;" * some(scale, 20_000), comment))


@hostile("workbook", ".xlsx", known=True)
def xlsx_billion_laughs(rng: Random, scale: float) -> bytes:
    """Ten entities, each ten times the one before."""
    ten = b"".join(b'<!ENTITY a%d "%s">' % (n, b"&a%d;" % (n - 1) * 10) for n in range(1, 11))
    return hostile_workbook(declared(b'<!ENTITY a0 "ha">' + ten, b"&a10;"))


@hostile("workbook", ".xlsx", known=True)
def xlsx_quadratic(rng: Random, scale: float) -> bytes:
    """A long entity used 50,000 times."""
    return hostile_workbook(declared(b'<!ENTITY a "' + b"a" * 50_000 + b'">', b"&a;" * some(scale, 50_000)))


@hostile("workbook", ".xlsx", known=True)
def xlsx_million_rows(rng: Random, scale: float) -> bytes:
    """1,000,000 rows of one cell, in 82 KB."""
    return hostile_workbook(rows(b"", b"<row><c><v>1</v></c></row>", some(scale, 1_000_000)))


@hostile("workbook", ".xlsx", known=True)
def xlsx_empty_rows(rng: Random, scale: float) -> bytes:
    """5,000,000 empty rows."""
    return hostile_workbook(rows(b"", b"<row></row>", some(scale, 5_000_000)))


@hostile("workbook", ".xlsx", known=True)
def xlsx_far_cell(rng: Random, scale: float) -> bytes:
    """One cell in the last row that a sheet can have."""
    return hostile_workbook(rows(b"", b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>', 1))


@hostile("workbook", ".xlsx")
def xlsx_wide_rows(rng: Random, scale: float) -> bytes:
    """3,000 rows with a cell in the last column, the 16,384th: fifty million cells that are not there."""
    return hostile_workbook(rows(b"", b'<row><c r="XFD2"><v>1</v></c></row>', some(scale, 3000)))


@hostile("workbook", ".xlsx")
def xlsx_thousands_of_sheets(rng: Random, scale: float) -> bytes:
    """100,000 sheets, which are all the same."""
    one = b"".join(b'<sheet name="s%d" sheetId="%d" r:id="r1"/>' % (n, n) for n in range(1, some(scale, 100_000) + 1))
    return hostile_workbook(sheets=one)


@hostile("workbook", ".xlsx")
def xlsx_shared_texts(rng: Random, scale: float) -> bytes:
    """2,500,000 shared texts that no cell uses, 70 MB in 0.3 MB."""
    texts = text(
        "xl/sharedStrings.xml",
        b"<sst " + MAIN + b">",
        b"<si><t>shared text</t></si>",
        some(scale, 2_500_000),
        b"</sst>",
    )
    return hostile_workbook(others=[texts])


@hostile("workbook", ".xlsx")
def xlsx_long_shared_text(rng: Random, scale: float) -> bytes:
    """A shared text of 70 MB, and 20,000 cells that use it."""
    long = text(
        "xl/sharedStrings.xml", b"<sst " + MAIN + b"><si><t>", b"abcdefghij", some(scale, 7_000_000), b"</t></si></sst>"
    )
    return hostile_workbook(rows(b"", b'<row><c t="s"><v>0</v></c></row>', some(scale, 20_000)), [long])


@hostile("workbook", ".xlsx")
def xlsx_styles(rng: Random, scale: float) -> bytes:
    """1,000,000 styles of a cell, 70 MB in 0.2 MB."""
    style = b'<xf numFmtId="14" fontId="0" fillId="0" borderId="0" xfId="0"/>'
    styles = text(
        "xl/styles.xml",
        b"<styleSheet " + MAIN + b"><cellXfs>",
        style,
        some(scale, 1_000_000),
        b"</cellXfs></styleSheet>",
    )
    return hostile_workbook(others=[styles])


@hostile("workbook", ".xlsx")
def xlsx_deep(rng: Random, scale: float) -> bytes:
    """A cell of elements in elements, 3,000,000 deep."""
    deep = some(scale, 3_000_000)
    return hostile_workbook(rows(b"<row>", b"<c>", deep, b"</c>" * deep + b"</row>"))


@hostile("workbook", ".xlsx")
def xlsx_names(rng: Random, scale: float) -> bytes:
    """500,000 defined names."""
    name = b'<definedName name="n">parts!$A$1:$XFD$1048576</definedName>'
    return hostile_workbook(more=b"<definedNames>" + name * some(scale, 500_000) + b"</definedNames>")


@hostile("workbook", ".xlsx")
def xlsx_merged(rng: Random, scale: float) -> bytes:
    """1,500,000 ranges of merged cells, each the whole sheet."""
    merged = text(
        "xl/worksheets/sheet1.xml", SHEET + HEAD_ROW + b"</sheetData><mergeCells>", b'<mergeCell ref="A1:XFD1048576"/>',
        some(scale, 1_500_000), b"</mergeCells></worksheet>",
    )  # fmt: skip
    return hostile_workbook(merged)


@hostile("workbook", ".xlsx")
def xlsx_impossible_values(rng: Random, scale: float) -> bytes:
    """Cells that are dates of the year 10^300, numbers of 100,000 digits and texts that are not there."""
    cells = [
        b'<c s="1"><v>1e300</v></c>', b'<c t="d"><v>9999-99-99T99:99:99</v></c>', b'<c t="s"><v>4294967296</v></c>',
        b"<c><v>" + b"9" * 100_000 + b"</v></c>", b'<c t="e"><v>#REF!</v></c>', b'<c r="ZZZZZZ0"><v>1</v></c>',
    ]  # fmt: skip
    styles = b"<styleSheet " + MAIN + b'><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/></cellXfs></styleSheet>'
    body = b"".join(b"<row>" + cell + b"</row>" for cell in cells)
    return hostile_workbook(rows(b"", body, 1), [_plain("xl/styles.xml", styles)])
