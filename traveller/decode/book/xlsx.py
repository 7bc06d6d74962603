"""An XLSX file to rows of cells, its sheets as they stream out of the zip, bounds asked before and while parsing."""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Callable, Iterator, Mapping
from xml.parsers import expat

from traveller.decode.book.bounds import SHEETS_MAX, UNPACKED_BYTES_MAX, BookRefused, Counted
from traveller.decode.book.cells import Numbered
from traveller.decode.book.formats import Kinds
from traveller.decode.book.xlsx_sheet import SheetReading, sheet_rows
from traveller.decode.book.xml_parts import DECLARED, XmlReading, stream
from traveller.decode.book.zips import UNPACKING_FAILS, open_zip, pieces

__all__ = ["read_sheets"]

_DECLARES = re.compile(rb"<!\s*(DOCTYPE|ENTITY)")
_RELATION = "http://schemas.openxmlformats.org/officeDocument/2006/relationships id"
_STRICT_RELATION = "http://purl.oclc.org/ooxml/officeDocument/relationships id"
# What a damaged XLSX makes of its parser: no XML, no such part, a number that is none.
_FAILS = (*UNPACKING_FAILS, expat.ExpatError, LookupError, ArithmeticError)


def read_sheets(
    content: bytes, name: str, wanted: Callable[[str], bool], counted: Counted | None = None
) -> list[tuple[str, list[Numbered]]]:
    """Each sheet's title and, of those wanted, the rows that are not blank with their numbers in the spreadsheet."""
    with open_zip(content, name) as archive:
        parts = [each for each in archive.namelist() if each.endswith("workbook.xml")]
        if not parts:
            raise BookRefused(name, "is not an XLSX workbook", "save it from the spreadsheet as XLSX")
        _refuse_declarations(archive, name)
        home = "xl/workbook.xml" if "xl/workbook.xml" in parts else parts[0]
        try:
            return _Book(archive, name, home, counted or Counted()).sheets(wanted)
        except BookRefused as refusal:
            raise BookRefused(refusal.found or name, refusal.wrong, refusal.right) from None
        except _FAILS as fault:
            raise BookRefused(name, "cannot be read as XLSX", "open it in a spreadsheet and save it again") from fault


def _refuse_declarations(archive: zipfile.ZipFile, name: str) -> None:
    """XML entities can blow up in memory, and no spreadsheet writes them; wherever in a part they stand."""
    for info in archive.infolist():
        if not info.filename.endswith((".xml", ".rels")):
            continue
        rest = b""
        try:
            for piece in pieces(archive, info, name, UNPACKED_BYTES_MAX):
                seen = rest + piece.replace(b"\0", b"")
                if _DECLARES.search(seen):
                    raise BookRefused(name, *DECLARED)
                rest = seen[-40:]
        except UNPACKING_FAILS as fault:
            raise BookRefused(name, "is damaged", "open it in a spreadsheet and save it again") from fault


class _Book:
    """The parts of one XLSX that hold data: list of sheets, texts, number formats, sheets."""

    def __init__(self, archive: zipfile.ZipFile, name: str, home: str, counted: Counted) -> None:
        self._archive, self._name, self._counted = archive, name, counted
        self._folder, file = posixpath.split(home)
        self._list = _SheetList()
        self._stream(home, self._list)
        self._relations = _Relations()
        self._stream(posixpath.join(self._folder, "_rels", f"{file}.rels"), self._relations)

    def sheets(self, wanted: Callable[[str], bool]) -> list[tuple[str, list[Numbered]]]:
        """Titles in their order, with the rows of those wanted."""
        texts, kinds = _Texts(self._counted), _Styles()
        readings: tuple[tuple[str, XmlReading], ...] = (("sharedStrings", texts), ("styles", kinds))
        for kind, reading in readings:
            for target in self._relations.of(kind):
                self._stream(self._path(target), reading)
        found: list[tuple[str, list[Numbered]]] = []
        for title, relation in self._list.sheets[:SHEETS_MAX]:
            kind, target = self._relations.by_id[relation]
            if kind != "worksheet":
                continue
            rows: list[Numbered] = []
            if wanted(title):
                cells = SheetReading(texts.texts, kinds.kinds, self._list.from_1904, self._counted)
                rows = sheet_rows(self._pieces(self._path(target)), cells, self._name)
            found.append((title, rows))
        return found

    def _path(self, target: str) -> str:
        if target.startswith("/"):
            return target.lstrip("/")
        return posixpath.normpath(f"{self._folder}/{target}").lstrip("/")

    def _pieces(self, path: str) -> Iterator[bytes]:
        return pieces(self._archive, self._archive.getinfo(path), self._name, UNPACKED_BYTES_MAX)

    def _stream(self, path: str, reading: XmlReading) -> None:
        stream(self._pieces(path), reading, self._name)


class _SheetList(XmlReading):
    """workbook.xml: titles with the names of their parts, and from which year days count."""

    def __init__(self) -> None:
        super().__init__()
        self.sheets: list[tuple[str, str]] = []
        self.from_1904 = False
        self.begins = {"sheet": self._sheet, "workbookPr": self._properties}

    def _sheet(self, attributes: Mapping[str, str]) -> None:
        relation = attributes.get(_RELATION) or attributes[_STRICT_RELATION]
        self.sheets.append((attributes["name"], relation))

    def _properties(self, attributes: Mapping[str, str]) -> None:
        self.from_1904 = attributes.get("date1904", "") in ("1", "true", "on")


class _Relations(XmlReading):
    """workbook.xml.rels: which part is what."""

    def __init__(self) -> None:
        super().__init__()
        self.by_id: dict[str, tuple[str, str]] = {}
        self.begins = {"Relationship": self._relation}

    def _relation(self, attributes: Mapping[str, str]) -> None:
        if attributes.get("TargetMode") != "External":
            self.by_id[attributes["Id"]] = (attributes["Type"].rpartition("/")[2], attributes["Target"])

    def of(self, kind: str) -> list[str]:
        return [target for each, target in self.by_id.values() if each == kind][:1]


class _Texts(XmlReading):
    """sharedStrings.xml: the texts that cells name by number; how they are pronounced is left out."""

    def __init__(self, counted: Counted) -> None:
        super().__init__()
        self.texts: list[str] = []
        self._counted, self._text, self._aside = counted, "", False
        self.begins = {"si": self._begin_item, "t": self._begin_text, "rPh": self._begin_aside}
        self.ends = {"si": self._end_item, "t": self._end_text, "rPh": self._end_aside}

    def _begin_item(self, attributes: Mapping[str, str]) -> None:
        self._text = ""

    def _begin_text(self, attributes: Mapping[str, str]) -> None:
        self._counted.add_places(1)
        self.listens = not self._aside

    def _end_text(self) -> None:
        self._text += self.heard()

    def _begin_aside(self, attributes: Mapping[str, str]) -> None:
        self._aside = True

    def _end_aside(self) -> None:
        self._aside = False

    def _end_item(self) -> None:
        self._counted.add_places(1)
        self._counted.add_characters(len(self._text))
        # An underscore that would be taken for an escaped letter is escaped itself.
        self.texts.append(self._text.replace("_x005F_", "_"))


class _Styles(XmlReading):
    """styles.xml: which of the cells' styles show days and times."""

    def __init__(self) -> None:
        super().__init__()
        self.kinds = Kinds()
        self._within = ""
        self.begins = {
            "numFmts": lambda _: self._enter("numFmts"),
            "cellXfs": lambda _: self._enter("cellXfs"),
            "numFmt": self._format,
            "xf": self._style,
        }
        self.ends = {"numFmts": self._leave, "cellXfs": self._leave}

    def _enter(self, name: str) -> None:
        self._within = name

    def _leave(self) -> None:
        self._within = ""

    def _format(self, attributes: Mapping[str, str]) -> None:
        if self._within == "numFmts":
            self.kinds.codes[int(attributes["numFmtId"])] = attributes.get("formatCode", "")

    def _style(self, attributes: Mapping[str, str]) -> None:
        if self._within == "cellXfs":
            self.kinds.by_style.append(int(attributes.get("numFmtId", "0")))
