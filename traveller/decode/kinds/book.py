"""A workbook: its sheets as rows of cells, or pictures of parts out of its folder, redrawn.

Asked {"form": "files" or "zip", "names": [...], "sheets": [names worth reading]}: the files are the blobs, or one zip
of them. Answers {"names": all files, "tables": [...]}, the rows of each table as JSON in the blob of the same place;
or {"refused": [found, wrong, right]} for what cannot be opened at all.

Asked {"draw": [names]} beside form and names: answers {"drawn": [[wrong, right] or none]} and a picture each, empty
where there is none.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence
from importlib import import_module
from pathlib import PurePosixPath
from typing import Any, Protocol

from traveller.decode.book.bounds import BookRefused, Counted
from traveller.decode.book.cells import Numbered, rows_to_json
from traveller.decode.book.choice import sheet_files
from traveller.decode.book.tables import letters, table_rows
from traveller.decode.book.xlsx import read_sheets
from traveller.decode.book.zips import ZipFolder

# Files' and, the last, old zips' names.
_LETTERS = ("utf-8", "utf-8-sig", "utf-16", "cp1252", "cp437")
BookAnswer = tuple[dict[str, Any], list[bytes]]


class FolderGiven(Protocol):
    """Files by relative name, with slashes whatever the system."""

    def names(self) -> Sequence[str]: ...

    def read(self, name: str) -> bytes: ...


class _Given:
    """Files that came one by one."""

    def __init__(self, names: Sequence[str], blobs: Sequence[bytes]) -> None:
        self._files = dict(zip(names, blobs, strict=True))

    def names(self) -> Sequence[str]:
        return list(self._files)

    def read(self, name: str) -> bytes:
        return self._files[name]


def decode(asked: Mapping[str, Any], blobs: list[bytes]) -> BookAnswer:
    """See the head of this file. `asked["names"]` are the files' names; a zip has one."""
    names: list[str] = asked["names"]
    try:
        folder: FolderGiven = ZipFolder(blobs[0], names[0]) if asked["form"] == "zip" else _Given(names, blobs)
        if "draw" in asked:
            return _pictures(folder, asked["draw"])
        return _sheets(folder, asked)
    except BookRefused as refusal:
        return {"refused": [refusal.found, refusal.wrong, refusal.right]}, []


def _sheets(folder: FolderGiven, asked: Mapping[str, Any]) -> BookAnswer:
    names = folder.names()
    books, tables = sheet_files(names, asked["names"][0])
    counted, known = Counted(), set(asked["sheets"])
    reported: list[dict[str, Any]] = []
    blobs: list[bytes] = []

    def tell(title: str, file: str, rows: Sequence[Numbered] = (), **more: Any) -> None:
        reported.append({"title": title, "file": file, "mark": None, "odd": "", "refused": None, **more})
        blobs.append(rows_to_json(rows))

    for book in books:
        found = read_sheets(folder.read(book), book, lambda title: title.strip().casefold() in known, counted)
        for title, rows in found:
            tell(title, book, rows)
    for name in tables:
        title = PurePosixPath(name).stem
        try:
            text, odd = letters(folder.read(name))
            mark, rows = table_rows(text, counted)
        except BookRefused as refusal:
            tell(title, name, refused=[refusal.found, refusal.wrong, refusal.right])
            continue
        tell(title, name, rows if title.strip().casefold() in known else (), mark=mark, odd=odd)
    return {"names": list(names), "tables": reported}, blobs


def _pictures(folder: FolderGiven, wanted: Sequence[str]) -> BookAnswer:
    # Loaded where it is asked for: most workbooks bring no pictures, and it takes its time.
    pictures = import_module("traveller.decode.book.pictures")
    faults: list[list[str] | None] = []
    drawn: list[bytes] = []
    for name in wanted:
        try:
            drawn.append(pictures.drawn(folder.read(name)))
            faults.append(None)
        except (BookRefused, pictures.PictureFault) as fault:
            drawn.append(b"")
            faults.append([fault.wrong, fault.right])
    return {"drawn": faults}, drawn


def rehearse(asked: Mapping[str, Any]) -> None:
    """Every letter, number and picture form that may come, so that what reads them is loaded."""
    if "draw" in asked:
        samples = [*import_module("traveller.decode.kinds.opened").samples(), *_bare()]
        for form, names, blobs in _ways({f"{n}.png": sample for n, sample in enumerate(samples)}):
            decode({"form": form, "names": names, "draw": [f"{n}.png" for n in range(len(samples))]}, blobs)
        return
    files = {f"{code}.csv": "a;b\n1;é\n".encode(code) for code in _LETTERS}
    for form, names, blobs in _ways(files):
        decode({"form": form, "names": names, "sheets": list(files)}, blobs)
    for form, names, blobs in _ways({"a.xlsx": _small_xlsx()}):
        decode({"form": form, "names": names, "sheets": ["a"]}, blobs)


def _ways(files: Mapping[str, bytes]) -> list[tuple[str, list[str], list[bytes]]]:
    """The same files one by one and zipped."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return [("files", list(files), list(files.values())), ("zip", ["a.zip"], [out.getvalue()])]


def _bare() -> list[bytes]:
    image = import_module("PIL.Image")
    found = []
    for form, mode in (("PNG", "P"), ("PNG", "RGBA"), ("PNG", "1"), ("PNG", "I;16"), ("JPEG", "L"), ("JPEG", "CMYK")):
        out = io.BytesIO()
        image.new(mode, (2000 if mode in ("RGBA", "CMYK") else 8, 8)).save(out, form)
        found.append(out.getvalue())
    return found


def _small_xlsx() -> bytes:
    space = 'xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"'
    parts = {
        "xl/workbook.xml": f'<workbook {space}><sheets><sheet name="a" r:id="i"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": '<Relationships><Relationship Id="i" Type="/worksheet" Target="a.xml"/>'
        '<Relationship Id="s" Type="/styles" Target="s.xml"/></Relationships>',
        "xl/s.xml": '<styleSheet><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/></cellXfs></styleSheet>',
        "xl/a.xml": '<worksheet><row r="1"><c r="A1"><v>1.5</v></c><c t="d"><v>2026-01-02</v></c>'
        '<c s="1"><v>9</v></c><c t="inlineStr"><is><t>é</t></is></c></row></worksheet>',
    }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in parts.items():
            archive.writestr(name, text.encode("utf-16" if name == "xl/a.xml" else "utf-8"))
    return out.getvalue()
