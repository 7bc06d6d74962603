"""A zip in memory, bounded before anything of it is unpacked; nothing is ever unpacked to disk."""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from pathlib import PurePosixPath

from traveller.decode.book.bounds import (
    FILE_BYTES_MAX,
    FILES_MAX,
    MEGABYTE,
    RATIO_ASKED_FROM_BYTES,
    RATIO_MAX,
    UNPACKED_BYTES_MAX,
    BookRefused,
)

__all__ = ["UNPACKING_FAILS", "ZipFolder", "open_zip", "pieces"]

# Whatever a damaged or forged member makes the unpacker say.
UNPACKING_FAILS = (zipfile.BadZipFile, RuntimeError, EOFError, OSError, ValueError, zlib.error)
_PIECE = 1 << 16


def open_zip(content: bytes, name: str) -> zipfile.ZipFile:
    """Open a zip (an XLSX is one), refusing one that is damaged, has a password or would unpack hugely."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
        members = archive.infolist()
    except UNPACKING_FAILS as fault:
        raise BookRefused(name, "is not a readable zip or XLSX file", "save it again from the spreadsheet") from fault
    unpacked = sum(info.file_size for info in members)
    if unpacked > UNPACKED_BYTES_MAX:
        raise BookRefused(
            name,
            f"would unpack to {unpacked // MEGABYTE:,} MB",
            f"at most {UNPACKED_BYTES_MAX // MEGABYTE} MB: leave out what is not part of the workbook",
        )
    if len(members) > FILES_MAX * 2:
        raise BookRefused(name, f"holds {len(members):,} files", f"at most {FILES_MAX}")
    if any(info.flag_bits & 1 for info in members):
        raise BookRefused(name, "is protected by a password", "save it without one")
    return archive


class ZipFolder:
    """The files of a zip by relative name, folders that hold everything taken off."""

    def __init__(self, content: bytes, name: str) -> None:
        self._zip = open_zip(content, name)
        members = [info for info in self._zip.infolist() if _counts(info.filename) and not info.is_dir()]
        paths = [PurePosixPath(info.filename) for info in members]
        top = _common_parent(paths)
        self._members = {path.relative_to(top).as_posix(): info for path, info in zip(paths, members, strict=True)}

    def names(self) -> Sequence[str]:
        return sorted(self._members)

    def read(self, name: str) -> bytes:
        """A file whole. Refused where it cannot be unpacked or is too large."""
        try:
            return b"".join(pieces(self._zip, self._members[name], name))
        except UNPACKING_FAILS as fault:
            raise BookRefused(name, "cannot be unpacked", "make the zip again, without a password") from fault


def pieces(archive: zipfile.ZipFile, info: zipfile.ZipInfo, name: str, most: int = FILE_BYTES_MAX) -> Iterator[bytes]:
    """A member in pieces, never more than its bound. Refused past it, else whatever the unpacker raises."""
    if info.file_size > most:
        raise BookRefused(name, f"is larger than {most // MEGABYTE} MB", "leave out what is not part of it")
    # Asked of the bytes that do come, since a zip may say what it likes of itself.
    ratio_bytes = max(RATIO_ASKED_FROM_BYTES, info.compress_size * RATIO_MAX)
    read = 0
    with archive.open(info) as member:
        while piece := member.read(_PIECE):
            read += len(piece)
            if read > min(most, ratio_bytes):
                raise BookRefused(
                    name, f"unpacks to more than {RATIO_MAX} times its size", "save it again and zip it anew"
                )
            yield piece


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
