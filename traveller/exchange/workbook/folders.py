"""Where a workbook's files lie: a folder, a zip, or one file that came alone. Their bytes are not looked into here."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Literal, Protocol

from traveller.decode.book.bounds import FILE_BYTES_MAX, FILES_MAX, MEGABYTE, UNPACKED_BYTES_MAX, BookRefused
from traveller.decode.book.choice import sheet_files

__all__ = ["FILE_BYTES_MAX", "UNPACKED_BYTES_MAX", "BookRefused", "DiskFolder", "Folder", "Listed", "Source", "Upload"]


class Upload(Protocol):
    """What a web upload offers."""

    @property
    def name(self) -> str | None:
        """The file's name as it was sent, if it has one."""
        ...

    def read(self, size: int = -1, /) -> bytes:
        """At most so many bytes from where the last reading ended; all that is left for -1."""
        ...


class Folder(Protocol):
    """Files by relative name, with slashes whatever the system."""

    def names(self) -> Sequence[str]:
        """The files that the workbook may be made of."""
        ...

    def find(self, name: str) -> str | None:
        """The stored spelling of a file, case not counting; None when it is not there."""
        ...


class DiskFolder:
    """A folder on disk; links that lead out of it do not count as being in it."""

    def __init__(self, root: Path) -> None:
        self._root = root.resolve()

    def names(self) -> Sequence[str]:
        """Its files in order, without hidden ones. Raises Refused where there are too many."""
        found: list[str] = []
        for path in sorted(self._root.rglob("*")):
            inside = path.resolve().is_relative_to(self._root)
            relative = path.relative_to(self._root)
            if inside and path.is_file() and not any(part.startswith((".", "~$")) for part in relative.parts):
                found.append(relative.as_posix())
            if len(found) > FILES_MAX:
                raise BookRefused(
                    str(self._root), f"holds more than {FILES_MAX} files", "give the workbook its own folder"
                )
        return found

    def read(self, name: str, most: int = FILE_BYTES_MAX) -> bytes:
        """A file whole; one byte more than `most` of one that is larger."""
        with (self._root / name).open("rb") as file:
            return file.read(most + 1)

    def find(self, name: str) -> str | None:
        """The stored spelling of a file in it, case not counting; None where there is none or it lies outside."""
        wanted = self._root / name
        try:
            if not wanted.resolve().is_relative_to(self._root) or not wanted.parent.is_dir():
                return None
            if wanted.is_file():
                return name
            for other in wanted.parent.iterdir():
                if other.name.casefold() == wanted.name.casefold() and other.is_file():
                    return other.relative_to(self._root).as_posix()
        except OSError:
            # A name longer than a disk takes is there as little as any other that is not there.
            return None
        return None


class Beside(DiskFolder):
    """The folder of an XLSX on disk: pictures in it can be found, though it holds whatever else."""

    def __init__(self, path: Path) -> None:
        super().__init__(path.parent)
        self._own = path.name

    def names(self) -> Sequence[str]:
        """The XLSX alone."""
        return [self._own]


class Listed:
    """The files of a zip, as the child told their names."""

    def __init__(self, names: Iterable[str]) -> None:
        self._names = list(names)

    def names(self) -> Sequence[str]:
        """All of them, in the zip's order."""
        return self._names

    def find(self, name: str) -> str | None:
        """The stored spelling of a file, case not counting; None when it is not there."""
        return {each.casefold(): each for each in self._names}.get(name.casefold())


@dataclass(frozen=True, slots=True)
class Source:
    """A workbook's bytes, ready for the child: one zip, or sheets under their names; `folder` where it has one."""

    shown: str
    form: Literal["zip", "files"]
    names: tuple[str, ...]
    contents: tuple[bytes, ...]
    folder: DiskFolder | None = None


def open_source(source: Path | str | Upload) -> Source:
    """What is behind a path or an upload. Raises Refused with the words for it."""
    if isinstance(source, str | Path):
        path = Path(source)
        if path.is_dir():
            return _sheets_in(DiskFolder(path), path.name)
        if not path.is_file():
            raise BookRefused(str(source), "does not exist", "give a folder of CSV files, an XLSX or a zip")
        name = path.name
        with path.open("rb") as file:
            content = file.read(FILE_BYTES_MAX + 1)
    else:
        name = PurePosixPath((source.name or "upload").replace("\\", "/")).name
        content = source.read(FILE_BYTES_MAX + 1)
    _bounded(content, name)
    if not content:
        raise BookRefused(name, "is empty", "choose the file again")
    kind = PurePosixPath(name).suffix.lower()
    if kind == ".zip":
        return Source(name, "zip", (name,), (content,))
    if kind == ".xlsx":
        beside = Beside(Path(source)) if isinstance(source, str | Path) else None
        return Source(name, "files", (name,), (content,), beside)
    raise BookRefused(name, "is not a workbook", "give a folder of CSV files, an XLSX or a zip of either")


def _sheets_in(folder: DiskFolder, shown: str) -> Source:
    books, tables = sheet_files(folder.names(), shown)
    names = (*books, *tables)
    contents = tuple(_bounded(folder.read(name), name) for name in names)
    if sum(map(len, contents)) > UNPACKED_BYTES_MAX:
        most = f"at most {UNPACKED_BYTES_MAX // MEGABYTE} MB"
        raise BookRefused(shown, "holds too much", f"{most}: leave out what is not part of the workbook")
    return Source(shown, "files", names, contents, folder)


def _bounded(content: bytes, name: str) -> bytes:
    if len(content) > FILE_BYTES_MAX:
        raise BookRefused(name, f"is larger than {FILE_BYTES_MAX // MEGABYTE} MB", "leave out what is not part of it")
    return content
