"""Workbooks made by hand, part by part: what spreadsheets write, and what nobody but a stranger would."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping

SPACE = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
TYPES = "http://schemas.openxmlformats.org/package/2006"
MAIN = "application/vnd.openxmlformats-officedocument.spreadsheetml"


def zipped(files: Mapping[str, bytes | str]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return out.getvalue()


def sheet(rows: str) -> str:
    """A worksheet part of these rows."""
    return f"<worksheet {SPACE}><sheetData>{rows}</sheetData></worksheet>"


def xlsx_of(
    rows: str, *, texts: str = "", styles: str = "", since: str = "", parts: Mapping[str, bytes | str] | None = None
) -> bytes:
    """An XLSX of one sheet `lanes`; `parts` take the place of its own, by their paths."""
    files: dict[str, bytes | str] = {
        "[Content_Types].xml": f'<Types xmlns="{TYPES}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{MAIN}.sheet.main+xml"/>'
        f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{MAIN}.worksheet+xml"/>'
        f'<Override PartName="/xl/sharedStrings.xml" ContentType="{MAIN}.sharedStrings+xml"/>'
        f'<Override PartName="/xl/styles.xml" ContentType="{MAIN}.styles+xml"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{TYPES}/relationships"><Relationship Id="a" '
        f'Type="{RELATIONS}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook {SPACE} xmlns:r="{RELATIONS}"><workbookPr {since}/>'
        '<sheets><sheet name="lanes" sheetId="1" r:id="rId1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{TYPES}/relationships">'
        f'<Relationship Id="rId1" Type="{RELATIONS}/worksheet" Target="worksheets/sheet1.xml"/>'
        f'<Relationship Id="rId2" Type="{RELATIONS}/sharedStrings" Target="/xl/sharedStrings.xml"/>'
        f'<Relationship Id="rId3" Type="{RELATIONS}/styles" Target="styles.xml"/></Relationships>',
        "xl/sharedStrings.xml": f"<sst {SPACE}>{texts}</sst>",
        "xl/styles.xml": f"<styleSheet {SPACE}>{styles}</styleSheet>",
        "xl/worksheets/sheet1.xml": sheet(rows),
    }
    return zipped({**files, **(parts or {})})
