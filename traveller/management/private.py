"""What the server keeps is for its own user: customers, sessions and keys lie in the data folder."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings
from django.db import connection

OTHERS = stat.S_IRWXG | stat.S_IRWXO


def tighten() -> list[str]:
    """Close data folder and database to other users; a sentence for each thing that could not be closed."""
    found = [_shared(settings.DATA)] if _is_shared(settings.DATA) else [_close(settings.DATA)]
    found += [_close(path) for path in _kept()]
    return [words for words in found if words]


def _kept() -> Iterator[Path]:
    """Whatever this program made: databases with what stands beside them, the key, collected and sent files."""
    if connection.vendor == "sqlite":
        database = Path(str(connection.settings_dict["NAME"]))
        yield from database.parent.glob(f"{database.name}*")
    for pattern in ("*.sqlite3*", "secret_key"):
        yield from settings.DATA.glob(pattern)
    for folder in (settings.STATIC_ROOT, settings.MEDIA_ROOT, settings.DATA / "demo-papers"):
        if Path(folder).is_dir():
            yield Path(folder)
            yield from Path(folder).rglob("*")


def _is_shared(folder: Path) -> bool:
    """A folder of the whole machine, such as /tmp or /srv: to close it would shut others out."""
    return len(folder.parts) <= 2 or bool(folder.stat().st_mode & stat.S_ISVTX)


def _shared(folder: Path) -> str:
    return (
        f"The data folder {folder} is shared with others on this machine, who may see what lies in it. "
        "Set TRAVELLER_DATA to a folder of its own."
    )


def _close(path: Path) -> str | None:
    try:
        mode = path.lstat().st_mode
        if stat.S_ISLNK(mode) or not mode & OTHERS:
            return None
        os.chmod(path, stat.S_IMODE(mode) & ~OTHERS)
    except FileNotFoundError:
        return None  # the write-ahead log comes and goes
    except OSError as error:
        right = "700" if path.is_dir() else "600"
        return (
            f"Other users of this machine can read {path}, and this user may not change that ({error.strerror}). "
            f"As its owner: chmod {right} {path}"
        )
    return None
