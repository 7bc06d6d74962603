"""XML of a workbook as it streams by: local names, texts, no declarations of entities."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from xml.parsers import expat

from traveller.decode.book.bounds import BookRefused

__all__ = ["DECLARED", "XmlReading", "stream"]

Begins = Callable[[Mapping[str, str]], None]
Ends = Callable[[], None]
DECLARED = ("holds XML declarations that no spreadsheet writes", "save it again as XLSX")


class XmlReading:
    """What is done where an element opens or closes, by its name without name space; its letters while `listens`."""

    def __init__(self) -> None:
        self.listens = False
        self.reported: list[str] = []
        self.begins: dict[str, Begins] = {}
        self.ends: dict[str, Ends] = {}

    def listen(self, _attributes: Mapping[str, str]) -> None:
        """From here on letters are gathered."""
        self.listens = True

    def heard(self) -> str:
        """The letters gathered since listening began, which ends with it."""
        self.listens = False
        text = "".join(self.reported)
        self.reported.clear()
        return text


def stream(pieces: Iterable[bytes], reading: XmlReading, name: str) -> None:
    """Parse as the pieces come. Refused for declared entities, ExpatError for what is no XML.

    `reading` may end it early by raising whatever it likes. Attributes with a name space are named "space name".
    """
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    # By the whole name, so that the hundred thousandth cell costs one look.
    begins: dict[str, Begins | None] = {}
    ends: dict[str, Ends | None] = {}

    def begin(full: str, attributes: Mapping[str, str]) -> None:
        if full not in begins:
            short = full.rpartition(" ")[2]
            begins[full], ends[full] = reading.begins.get(short), reading.ends.get(short)
        if then := begins[full]:
            then(attributes)

    def end(full: str) -> None:
        if then := ends[full]:
            then()

    def letters(text: str) -> None:
        if reading.listens:
            reading.reported.append(text)

    def declared(*_: object) -> None:
        raise BookRefused(name, *DECLARED)

    parser.StartElementHandler = begin
    parser.EndElementHandler = end
    parser.CharacterDataHandler = letters
    parser.StartDoctypeDeclHandler = declared
    parser.EntityDeclHandler = declared
    for piece in pieces:
        parser.Parse(piece, False)
    parser.Parse(b"", True)
