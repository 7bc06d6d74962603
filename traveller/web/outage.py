"""Outage is a state: a database that is away, busy or full is answered with 503, in words, and never with 500.

Django turns an exception into an answer at the layer that raised it, a middleware included, and asks these two
handlers (`traveller/urls.py`) what to answer: so nothing that fails on the way in or out can slip past them. They
need no database and no session. What is a fault of the program (a missing table) stays a 500.
"""

from __future__ import annotations

import errno
import logging
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextvars import ContextVar
from typing import Any, cast

from django.db import Error, InterfaceError, OperationalError, connections
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string
from django.utils import translation

from traveller.web import faults
from traveller.web.words import say

AWAY, BUSY, FULL = "database_away", "database_busy", "disk_full"
# Not by what is typed, nor by the state of things: what no typing can mend, and what passes.
UNABLE = frozenset((AWAY, BUSY, FULL))
RETRY_SECONDS = 5
# What scripts ask; they read no pages, whatever they say that they accept.
_MACHINES = ("/here/queue", "/here/keep")
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
_noticed: ContextVar[str] = ContextVar("outage", default="")
_worn: ContextVar[bool] = ContextVar("worn", default=False)
_log = logging.getLogger(__name__)


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


def notice(code: str) -> None:
    """A deed of this request could not be done: its page will say so, and be answered with 503."""
    _noticed.set(code)
    if code == AWAY:
        _worn.set(True)


def wear() -> None:
    """After this request the database is opened anew: a connection to SQLite keeps a copy of the last large value of
    each of its statements, some tens of megabytes for every thread, until the same statement is used again."""
    _worn.set(True)


def renew() -> None:
    """Open the database anew for the next request: a SQLite file that was opened while it could not be written stays
    so for as long as it is open, and Django looks after lost connections of PostgreSQL only.
    """
    _worn.set(False)
    for one in connections.all(initialized_only=True):
        if not one.in_atomic_block:
            one.close()


def noticed() -> str:
    """The code of what could not be done since the last asking, or ""."""
    code = _noticed.get()
    _noticed.set("")
    return code


def refuse_read_only(connection: Any, **_signal: Any) -> None:
    """Never keep a connection to a SQLite file that can't be written: all later ones of the process would be so, too.

    SQLite opens what it can't write for reading, without a word, and shares that among a process's connections for as
    long as any of them is open: the server would refuse every news for good after a disk was read-only for a minute.
    """
    if connection.vendor != "sqlite":
        return
    raw = connection.connection
    patience = raw.execute("PRAGMA busy_timeout").fetchone()[0]
    try:
        # Only asked whether it may: whoever writes just now is no reason to wait.
        raw.execute("PRAGMA busy_timeout = 0")
        raw.execute("BEGIN IMMEDIATE")
        # On a file that it can only read SQLite takes BEGIN IMMEDIATE for a plain BEGIN; this it refuses.
        raw.execute(f"PRAGMA user_version = {raw.execute('PRAGMA user_version').fetchone()[0]}")
        raw.execute("ROLLBACK")
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
            connection.close()
            raise OperationalError(str(error)) from error
    raw.execute(f"PRAGMA busy_timeout = {patience}")


class OutageMiddleware:
    """The page on which a form came back because of an outage is a 503, whoever rendered it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        noticed()
        try:
            answer = self.get_response(request)
        finally:
            if _worn.get():
                renew()
        # A redirect says that the news was taken, whatever of it could not be done at once.
        came_back = answer.status_code in (200, 409, 422) and "html" in answer.get("Content-Type", "")
        if noticed() and came_back:
            answer.status_code = 503
        if answer.status_code == 503:
            answer.headers.setdefault("Retry-After", str(RETRY_SECONDS))
        return answer


def server_error(request: HttpRequest) -> HttpResponse:
    """The handler of what nobody caught: 503 where the database was the reason, else 500."""
    error = sys.exc_info()[1]
    code = code_of(error)
    return answer_of(request, code, error) if code else faults.fault(request)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """The handler of bad requests, which is what Django calls one whose session could not be saved."""
    code = code_of(exception)
    if code:
        return answer_of(request, code, exception)
    return faults.bad_request(request, exception)


def answer_of(request: HttpRequest, code: str, error: BaseException | None) -> HttpResponse:
    """503 in words, in the reader's language, or in JSON for a machine; when to ask again stands in Retry-After."""
    if code == AWAY:
        renew()
    _log.warning("%s %s: %s: %s", request.method, request.path, code, str(error).strip())
    with translation.override(translation.get_language_from_request(request)):
        answer = _json(code) if for_machine(request) else _html(request, code)
    answer.headers["Retry-After"] = str(RETRY_SECONDS)
    answer.headers["Cache-Control"] = "no-store"
    # Said above in one line: a traceback for each request of an outage would bury everything else.
    cast(Any, answer)._has_been_logged = True
    return answer


def for_machine(request: HttpRequest) -> bool:
    """Does a script ask? The keeper asks for pages as a machine, too, but takes HTML."""
    accept = request.headers.get("Accept", "")
    return request.path in _MACHINES or ("application/json" in accept and "text/html" not in accept)


def _json(code: str) -> HttpResponse:
    return JsonResponse({"error": code, "words": say(code)}, status=503)


def _html(request: HttpRequest, code: str) -> HttpResponse:
    reported = {"away": code == AWAY, "asked": request.method in ("GET", "HEAD")}
    return HttpResponse(render_to_string("503.html", reported), status=503)
