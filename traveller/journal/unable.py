"""Why a database cannot do what it was asked: it is away, busy or full; and what is none of these, a fault of ours.

By the driver's own code, by its words where it gives none. Above it `web.outage` answers with 503, and the work behind
the pages says it of an import.
"""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator

from django.db import Error, InterfaceError, OperationalError

__all__ = ["AWAY", "BUSY", "FULL", "UNABLE", "code_of"]

AWAY, BUSY, FULL = "database_away", "database_busy", "disk_full"
# Not by what is typed, nor by the state of things: what no typing can mend, and what passes.
UNABLE = frozenset((AWAY, BUSY, FULL))
# The primary result codes of SQLite (sqlite.org/rescode.html): BUSY, LOCKED, INTERRUPT, PROTOCOL; FULL; then NOMEM,
# READONLY, IOERR, CORRUPT, CANTOPEN, NOTADB.
_SQLITE = {5: BUSY, 6: BUSY, 9: BUSY, 15: BUSY, 13: FULL} | dict.fromkeys((7, 8, 10, 11, 14, 26), AWAY)
# PostgreSQL, appendix A of its manual: whole states first, then classes: connection, transaction rolled back,
# insufficient resources, operator intervention, system error, internal error.
_STATES = {"53100": FULL, "55P03": BUSY, "57014": BUSY, "25006": AWAY}
_CLASSES = {"08": AWAY, "40": BUSY, "53": AWAY, "57": AWAY, "58": AWAY, "XX": AWAY}
_ERRNOS = {errno.ENOSPC: FULL, errno.EDQUOT: FULL, errno.EROFS: AWAY, errno.EMFILE: AWAY, errno.ENFILE: AWAY}
# Errors that carry no code say it in words only: those of a driver whose connection is gone, and those raised by hand.
_WORDS = (
    ("full", FULL),
    ("no space left", FULL),
    ("locked", BUSY),
    ("disk i/o error", AWAY),
    ("read-only file system", AWAY),
    ("readonly database", AWAY),
    ("unable to open", AWAY),
    ("queue of writers", AWAY),
)


def code_of(error: BaseException | None) -> str:
    """`database_away`, `database_busy` or `disk_full`, when that is behind an error; "" for any other."""
    for one in _behind(error):
        code = _code(one)
        if code:
            return code
    return ""


def _behind(error: BaseException | None) -> Iterator[BaseException]:
    """An error and those that led to it: a session that cannot be saved is called a bad request, for example."""
    seen: set[int] = set()
    while error is not None and id(error) not in seen:
        seen.add(id(error))
        yield error
        error = error.__cause__ or error.__context__


def _code(error: BaseException) -> str:
    if isinstance(error, Error):
        return _of_database(error, error.__cause__)
    if isinstance(error, OSError) and error.errno is not None:
        return _ERRNOS.get(error.errno, "")
    return ""


def _of_database(error: Error, driver: BaseException | None) -> str:
    """By the driver's own code; by its words where it gives none."""
    text = str(error).lower()
    if isinstance(driver, sqlite3.Error) and getattr(driver, "sqlite_errorcode", None) is not None:
        return _SQLITE.get(driver.sqlite_errorcode & 0xFF, "")
    state = getattr(driver, "sqlstate", None)
    if state:
        return _of_postgres(state, text)
    if isinstance(error, InterfaceError):
        return AWAY if "closed" in text else ""
    if not isinstance(error, OperationalError) or "no such" in text:
        return ""
    found = next((code for words, code in _WORDS if words in text), "")
    # libpq gives no code for a connection that could not be made or was lost.
    return found or (AWAY if driver is not None and not isinstance(driver, sqlite3.Error) else BUSY)


def _of_postgres(state: str, text: str) -> str:
    # It calls a file of its own that it may not write (any more) a lack of privilege.
    own_file = AWAY if state == "42501" and text.startswith("could not ") else ""
    return _STATES.get(state) or _CLASSES.get(state[:2]) or own_file
