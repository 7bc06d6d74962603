"""Faults of the machine as one sentence: a full disk, a folder that may not be written, a database that is away."""

from __future__ import annotations

import errno
import shutil
from pathlib import Path

from django.conf import settings
from django.db import connection

FULL = (errno.ENOSPC, errno.EDQUOT)
ROOM = 64 * 1024
NOT_ALLOWED = (errno.EACCES, errno.EPERM)


def fault_words(error: Exception) -> str:
    """What the machine refused: of the system's own errors (OSError) and of the database's."""
    return file_words(error) if isinstance(error, OSError) else database_words(error)


def file_words(error: OSError) -> str:
    """What the system refused, of which file, and what to do."""
    file = error.filename if isinstance(error.filename, str | Path) else settings.DATA
    if error.errno in FULL:
        return f"The disk is full: {file} could not be written. Make room on it and start again."
    if error.errno == errno.EROFS:
        return (
            f"{file} lies on a file system that can only be read. Mount it for writing, "
            "or set TRAVELLER_DATA to a folder that can be written."
        )
    if error.errno in NOT_ALLOWED:
        return (
            f"{file} may not be used by this user ({error.strerror}). Give its owner the right to it, "
            "start as that owner, or set TRAVELLER_DATA to another folder."
        )
    return f"{file}: {error.strerror or error}. See what stands in its way and start again."


def database_words(error: Exception) -> str:
    """What the database refused; SQLite names no file and no way out itself."""
    said = " ".join(str(error).split())
    where = connection.settings_dict["NAME"]
    if "disk is full" in said or getattr(error.__cause__, "sqlstate", None) == "53100" or _no_room():
        return f"The disk under the database is full ({said}). Make room on it and start again."
    if connection.vendor == "sqlite" and "locked" in said:
        return f"{where} is being written by another process ({said}). Wait until that is done and start again."
    if connection.vendor == "sqlite" and ("readonly" in said or "unable to open" in said or "disk I/O" in said):
        return (
            f"{where} cannot be written ({said}). It and its folder must be writable for this user, "
            "and must not lie on a file system that can only be read."
        )
    return f"The database cannot be reached: {said}"


def _no_room() -> bool:
    """SQLite calls a disk that is full an error of input and output, too, when it cannot even make its log."""
    if connection.vendor != "sqlite":
        return False
    folder = Path(str(connection.settings_dict["NAME"])).parent
    return folder.is_dir() and shutil.disk_usage(folder).free < ROOM
