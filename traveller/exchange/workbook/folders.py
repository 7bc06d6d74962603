"""Where a workbook's files lie: a folder, a zip, or one file that came alone. Nothing is ever unpacked to disk."""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterable, Sequence
from pathlib import Path, PurePosixPath
from typing import Protocol

MEGABYTE = 1024 * 1024
FILE_BYTES_MAX = 20 * MEGABYTE
UNPACKED_BYTES_MAX = 80 * MEGABYTE
FILES_MAX = 500


class Refused(Exception):
    """A source that cannot be opened at all, with the words for it."""

    def __init__(self, found: str, wrong: str, right: str) -> None:
        super().__init__(wrong)
        self.found, self.wrong, self.right = found, wrong, right


class Upload(Protocol):
    """What a web upload offers."""

    @property
    def name(self) -> str | None: ...

    def read(self, size: int = -1, /) -> bytes: ...


class Folder(Protocol):
    """Files by relative name, with slashes whatever the system."""

    def names(self) -> Sequence[str]: ...

    def read(self, name: str) -> bytes: ...

    def find(self, name: str) -> str | None:
        """The stored spelling of a file, case not counting; None when it is not there."""
        ...


class DiskFolder:
    """A folder on disk; links that lead out of it do not count as being in it."""

    def __init__(self, root: Path) -> None:
        self._root = root.resolve()

    def names(self) -> Sequence[str]:
        found: list[str] = []
        for path in sorted(self._root.rglob("*")):
            inside = path.resolve().is_relative_to(self._root)
            relative = path.relative_to(self._root)
            if inside and path.is_file() and not any(part.startswith((".", "~$")) for part in relative.parts):
                found.append(relative.as_posix())
            if len(found) > FILES_MAX:
                raise Refused(str(self._root), f"holds more than {FILES_MAX} files", "give the workbook its own folder")
        return found

    def read(self, name: str) -> bytes:
        with (self._root / name).open("rb") as file:
            return _bounded(file.read(FILE_BYTES_MAX + 1), name)

    def find(self, name: str) -> str | None:
        wanted = self._root / name
        if not wanted.resolve().is_relative_to(self._root) or not wanted.parent.is_dir():
            return None
        if wanted.is_file():
            return name
        for other in wanted.parent.iterdir():
            if other.name.casefold() == wanted.name.casefold() and other.is_file():
                return other.relative_to(self._root).as_posix()
        return None


class ZipFolder:
    """The files of a zip, read in memory; sizes are checked before anything is unpacked."""

    def __init__(self, content: bytes, name: str) -> None:
        self._zip = open_zip(content, name)
        members = [info for info in self._zip.infolist() if _counts(info.filename) and not info.is_dir()]
        paths = [PurePosixPath(info.filename) for info in members]
        top = _common_parent(paths)
        self._members = {path.relative_to(top).as_posix(): info for path, info in zip(paths, members, strict=True)}

    def names(self) -> Sequence[str]:
        return sorted(self._members)

    def read(self, name: str) -> bytes:
        info = self._members[name]
        try:
            with self._zip.open(info) as member:
                return _bounded(member.read(FILE_BYTES_MAX + 1), name)
        except (zipfile.BadZipFile, RuntimeError, EOFError, OSError, zlib.error) as fault:
            raise Refused(name, "cannot be unpacked", "make the zip again, without a password") from fault

    def find(self, name: str) -> str | None:
        return _find(self._members, name)


class LoneFile:
    """One file that came alone, such as an uploaded XLSX: it has no neighbours."""

    def __init__(self, name: str, content: bytes) -> None:
        self._name, self._content = name, content

    def names(self) -> Sequence[str]:
        return [self._name]

    def read(self, name: str) -> bytes:
        return self._content

    def find(self, name: str) -> str | None:
        return name if name == self._name else None


def open_zip(content: bytes, name: str) -> zipfile.ZipFile:
    """Open a zip (an XLSX is one), refusing one that is damaged, has a password or would unpack hugely."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
        members = archive.infolist()
    except (zipfile.BadZipFile, ValueError, RuntimeError, OSError) as fault:
        raise Refused(name, "is not a readable zip or XLSX file", "save it again from the spreadsheet") from fault
    unpacked = sum(info.file_size for info in members)
    if unpacked > UNPACKED_BYTES_MAX:
        raise Refused(
            name,
            f"would unpack to {unpacked // MEGABYTE:,} MB",
            f"at most {UNPACKED_BYTES_MAX // MEGABYTE} MB: leave out what is not part of the workbook",
        )
    if len(members) > FILES_MAX * 2:
        raise Refused(name, f"holds {len(members):,} files", f"at most {FILES_MAX}")
    if any(info.flag_bits & 1 for info in members):
        raise Refused(name, "is protected by a password", "save it without one")
    return archive


def open_source(source: Path | str | Upload) -> tuple[Folder, str]:
    """The folder behind a path or an upload, and the name to show for it."""
    if isinstance(source, str | Path):
        path = Path(source)
        if path.is_dir():
            return DiskFolder(path), path.name
        if not path.is_file():
            raise Refused(str(source), "does not exist", "give a folder of CSV files, an XLSX or a zip")
        name = path.name
        with path.open("rb") as file:
            content = file.read(FILE_BYTES_MAX + 1)
    else:
        name = PurePosixPath((source.name or "upload").replace("\\", "/")).name
        content = source.read(FILE_BYTES_MAX + 1)
    _bounded(content, name)
    if not content:
        raise Refused(name, "is empty", "choose the file again")
    kind = PurePosixPath(name).suffix.lower()
    if kind == ".zip":
        return ZipFolder(content, name), name
    if kind == ".xlsx":
        if isinstance(source, str | Path):
            return _Beside(Path(source), content), name
        return LoneFile(name, content), name
    raise Refused(name, "is not a workbook", "give a folder of CSV files, an XLSX or a zip of either")


class _Beside(LoneFile):
    """An XLSX on disk: it is the only sheet file, but pictures beside it can be read."""

    def __init__(self, path: Path, content: bytes) -> None:
        super().__init__(path.name, content)
        self._folder = DiskFolder(path.parent)
        self._own = path.name

    def read(self, name: str) -> bytes:
        return super().read(name) if name == self._own else self._folder.read(name)

    def find(self, name: str) -> str | None:
        return self._folder.find(name)


def _find(names: Iterable[str], name: str) -> str | None:
    return {each.casefold(): each for each in names}.get(name.casefold())


def _counts(name: str) -> bool:
    parts = PurePosixPath(name.replace("\\", "/")).parts
    if not parts:
        # A member may have no name at all.
        return False
    hidden = any(part.startswith((".", "~$", "__MACOSX")) for part in parts)
    return not hidden and ".." not in parts and not name.startswith("/")


def _common_parent(paths: Sequence[PurePosixPath]) -> PurePosixPath:
    """The folder that holds everything: a zipped folder has one level more than zipped files."""
    top = PurePosixPath(".")
    while paths and all(len(path.parts) > len(top.parts) + 1 for path in paths):
        heads = {path.parts[len(top.parts)] for path in paths}
        if len(heads) != 1:
            break
        top = top / heads.pop()
    return top


def _bounded(content: bytes, name: str) -> bytes:
    if len(content) > FILE_BYTES_MAX:
        raise Refused(name, f"is larger than {FILE_BYTES_MAX // MEGABYTE} MB", "leave out what is not part of it")
    return content
