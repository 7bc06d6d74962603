"""The picture files that the parts sheet names: found beside it, looked at and redrawn in the child."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import PurePosixPath

from traveller.decode.book.bounds import PICTURE_BYTES_MAX, BookRefused
from traveller.exchange.workbook.asking import ask_child
from traveller.exchange.workbook.folders import Folder, Source
from traveller.exchange.workbook.numbers import BadCell
from traveller.exchange.workbook.problems import Findings, nearest_word
from traveller.exchange.workbook.raw import RawBook, RawSheet, is_blank
from traveller.exchange.workbook.rows import PartRow
from traveller.exchange.workbook.sheets import SHEETS

__all__ = ["bring_pictures", "media_type", "take_pictures"]

# So many a child: the largest of them take it most of its seconds.
AT_ONCE_MOST = 20
# To find what a name may have meant takes its time, and who has so many wrong has another fault.
HINTS_MOST = 50
_PNG_HEAD = b"\x89PNG"


def bring_pictures(book: RawBook, source: Source, folder: Folder) -> None:
    """Fill in the pictures that the parts sheet names, each redrawn once, or what is wrong with them."""
    stored: dict[str, str] = {}
    for name in _named(book.sheets["parts"]) if "parts" in book.sheets else ():
        found = _find(name, folder, hint=len(book.picture_faults) < HINTS_MOST)
        if isinstance(found, str):
            stored[name] = found
        else:
            book.picture_faults[name] = found
    files = sorted(set(stored.values()))
    drawn: dict[str, bytes | tuple[str, str]] = {}
    for at in range(0, len(files), AT_ONCE_MOST):
        drawn |= _drawn(source, files[at : at + AT_ONCE_MOST])
    for name, file in stored.items():
        picture = drawn[file]
        if isinstance(picture, bytes):
            book.pictures[name] = picture
        else:
            book.picture_faults[name] = picture


def _named(parts: RawSheet) -> Iterator[str]:
    """The names in the column for pictures, tidied as its cells are."""
    column = next(each for each in SHEETS["parts"].columns if each.name == "picture")
    head = next((word for word in (column.name, *column.also) if word in parts.header), None)
    seen: set[str] = set()
    for _number, cells in parts.cells() if head else ():
        cell = cells[head or ""]
        try:
            name = "" if is_blank(cell) else str(column.parse(cell, parts.decimal_mark))
        except BadCell:
            # It is complained about where the row is read.
            continue
        if name and name not in seen:
            seen.add(name)
            yield name


def _find(name: str, folder: Folder, *, hint: bool) -> str | tuple[str, str]:
    """The stored name of a file beside the sheets, or what is wrong with the name."""
    path = PurePosixPath(name)
    if path.is_absolute() or ".." in path.parts or "\\" in name or ":" in name:
        return "leads out of the workbook's folder", "put the picture beside the sheets and give its name alone"
    stored = folder.find(str(path))
    if stored is None:
        close = nearest_word(str(path), folder.names(), 1) if hint else []
        right = f"did you mean {close[0]}?" if close else "put the file there, or leave the cell empty"
        return "is not beside the sheets", right
    return stored


def _drawn(source: Source, files: Sequence[str]) -> dict[str, bytes | tuple[str, str]]:
    names, contents = source.names, source.contents
    if source.folder is not None:
        names, contents = tuple(files), tuple(source.folder.read(file, PICTURE_BYTES_MAX) for file in files)
    try:
        facts, blobs = ask_child(contents, {"form": source.form, "names": names, "draw": list(files)}, source.shown)
    except BookRefused as refusal:
        return dict.fromkeys(files, (refusal.wrong, "make the pictures smaller, and save them again"))
    redrawn = zip(files, facts["drawn"], blobs, strict=True)
    return {file: blob if fault is None else (str(fault[0]), str(fault[1])) for file, fault, blob in redrawn}


def take_pictures(parts: Sequence[PartRow], book: RawBook, findings: Findings) -> dict[str, bytes]:
    """Each named picture once, by the name that the sheet gives it."""
    pictures: dict[str, bytes] = {}
    for part in parts:
        if not part.picture or part.picture in pictures:
            continue
        if not book.has_folder:
            right = "upload a zip of the XLSX with its pictures to bring them"
            findings.warn("parts", part.row, "picture", part.picture, "did not come with the XLSX", right)
        elif part.picture in book.pictures:
            pictures[part.picture] = book.pictures[part.picture]
        else:
            findings.wrong("parts", part.row, "picture", part.picture, *book.picture_faults[part.picture])
    return pictures


def media_type(content: bytes) -> str:
    """image/png or image/jpeg, for a picture that the child drew."""
    return "image/png" if content.startswith(_PNG_HEAD) else "image/jpeg"
