"""Outage is a state: a database that is away, busy or full is answered with 503, in words, and never with 500.

Django turns an exception into an answer at the layer that raised it, a middleware included, and asks these two
handlers (`traveller/urls.py`) what to answer: so nothing that fails on the way in or out can slip past them. They
need no database and no session. What is a fault of the program (a missing table) stays a 500.
"""

from __future__ import annotations

import logging
import sqlite3
import sys
from collections.abc import Callable
from contextvars import ContextVar
from typing import Any, cast

from django.db import OperationalError, connections
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string
from django.utils import translation

from traveller.journal.unable import AWAY, code_of
from traveller.web import faults
from traveller.web.words import say

RETRY_SECONDS = 5
# What scripts ask; they read no pages, whatever they say that they accept.
_MACHINES = ("/here/queue", "/here/keep")
_noticed: ContextVar[str] = ContextVar("outage", default="")
_worn: ContextVar[bool] = ContextVar("worn", default=False)
_log = logging.getLogger(__name__)


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
