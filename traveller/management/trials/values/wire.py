"""Asks the production server's own door, in this process: a request that no browser would send arrives as it is."""

from __future__ import annotations

import io
import logging
import sys
import time
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import unquote_to_bytes

from django.conf import settings
from django.core.signals import request_finished, request_started
from django.db import close_old_connections

__all__ = ["BadAnswer", "Heard", "Jar", "Overheard", "Request", "ask_server"]

# Django takes any 32 letters and digits for the secret behind a form's token.
CSRF = "v" * 32


@dataclass(frozen=True, slots=True)
class Request:
    method: str
    path: str
    query: str = ""
    headers: dict[str, str] = field(default_factory=dict)
    body: bytes = b""
    content_type: str = ""

    def reported(self) -> str:
        """What is needed to send it again; long bodies by their beginning and their length."""
        lines = [f"{self.method!r} {self.path!r} ?{self.query!r}"]
        lines += [f"  {name}: {value[:200]!r}" for name, value in self.headers.items()]
        if self.body or self.content_type:
            lines.append(f"  Content-Type: {self.content_type!r}, {len(self.body):,} bytes: {self.body[:1500]!r}")
        return "\n".join(lines)


@dataclass(frozen=True, slots=True)
class BadAnswer:
    """An exception that somebody met: `where` its kind and the last line of ours that it came through."""

    where: str
    text: str


@dataclass(frozen=True, slots=True)
class Heard:
    status: int
    headers: dict[str, str]
    cookies: list[str]
    body: bytes
    seconds: float
    of_processor: float
    faults: tuple[BadAnswer, ...] = ()

    @property
    def is_page(self) -> bool:
        return self.status == 200 and self.headers.get("content-type", "").startswith("text/html")


@dataclass(slots=True)
class Jar:
    """The cookies of one browser."""

    address: str = "192.0.2.7"
    kept: dict[str, str] = field(default_factory=lambda: {"csrftoken": CSRF})

    def take(self, answer: Heard) -> None:
        """Keep what an answer sets, but the token, which stays the same."""
        for line in answer.cookies:
            try:
                found = SimpleCookie(line)
            except CookieError:
                continue
            self.kept |= {name: morsel.coded_value for name, morsel in found.items() if name != "csrftoken"}

    def header(self) -> str:
        return "; ".join(f"{name}={value}" for name, value in self.kept.items())


class Overheard(logging.Handler):
    """Hears each exception that the program reports, also those that it did not let the asker see."""

    def __init__(self) -> None:
        super().__init__(logging.ERROR)
        self.faults: list[BadAnswer] = []

    def emit(self, record: logging.LogRecord) -> None:
        if record.name.startswith("django.security"):
            return  # refused with 400, and written down because somebody may be trying something
        if isinstance(record.exc_info, tuple) and record.exc_info[0] is not None:
            self.faults.append(fault_of(record.exc_info))
        else:
            self.faults.append(BadAnswer(f"{record.name}: {str(record.msg)[:80]}", record.getMessage()))

    def taken(self) -> tuple[BadAnswer, ...]:
        found, self.faults = tuple(self.faults), []
        return found

    @contextmanager
    def listening(self) -> Iterator[None]:
        """Instead of whoever else writes the log: a line for each page that is not there would bury everything."""
        import traveller.wsgi  # noqa: F401  (it sets up the log anew, which must not happen while we listen)

        root = logging.getLogger()
        before, root.handlers = root.handlers, [self]
        try:
            yield
        finally:
            root.handlers = before


def fault_of(info: Any) -> BadAnswer:
    kind, error, trace = info
    frames = traceback.extract_tb(trace)
    own = [frame for frame in frames if frame.filename.startswith(str(settings.ROOT)) and ".venv" not in frame.filename]
    last = (own or frames)[-1] if frames else None
    place = f"{last.filename.removeprefix(f'{settings.ROOT}/')}:{last.lineno}" if last else "?"
    words = traceback.format_exception_only(kind, error)[-1].strip()
    return BadAnswer(f"{kind.__name__} at {place}", words[:300])


def ask_server(request: Request, jar: Jar, heard: Overheard) -> Heard:
    """One request. What the server itself would have to catch counts as 500."""
    from traveller.wsgi import application

    status: list[str] = []
    headers: list[tuple[str, str]] = []

    def start(said: str, reported: list[tuple[str, str]], exc_info: Any = None) -> Any:
        status.append(said)
        headers.extend(reported)

    began, worked = time.perf_counter(), time.process_time()
    try:
        with _connection_kept():
            parts = application(_environ(request, jar), start)
            body = b"".join(parts)
            parts.close()
        code = int(status[0].split()[0])
    except Exception:  # whatever it is: that is what is looked for
        heard.faults.append(fault_of(sys.exc_info()))
        code, body = 500, b""
    took, work = time.perf_counter() - began, time.process_time() - worked
    cookies = [value for name, value in headers if name.lower() == "set-cookie"]
    reported = {name.lower(): value for name, value in headers}
    return Heard(code, reported, cookies, body, took, work, heard.taken())


@contextmanager
def _connection_kept() -> Iterator[None]:
    """A server opens and closes the database as requests come; a test's transaction would end with it."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    try:
        yield
    finally:
        for signal in (request_started, request_finished):
            signal.connect(close_old_connections)


def _environ(request: Request, jar: Jar) -> dict[str, Any]:
    """As PEP 3333 has it: bytes as Latin-1 letters."""
    environ: dict[str, Any] = {
        "REQUEST_METHOD": request.method,
        "SCRIPT_NAME": "",
        "PATH_INFO": unquote_to_bytes(request.path.encode("utf-8", "surrogatepass")).decode("latin-1"),
        "QUERY_STRING": request.query.encode("utf-8", "surrogatepass").decode("latin-1"),
        "SERVER_NAME": "localhost",
        "SERVER_PORT": "80",
        "SERVER_PROTOCOL": "HTTP/1.1",
        "REMOTE_ADDR": jar.address,
        "HTTP_HOST": "localhost",
        "HTTP_COOKIE": _latin(jar.header()),
        "CONTENT_LENGTH": str(len(request.body)),
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": "http",
        "wsgi.input": io.BytesIO(request.body),
        "wsgi.errors": io.StringIO(),
        "wsgi.multithread": False,
        "wsgi.multiprocess": False,
        "wsgi.run_once": False,
    }
    if request.content_type:
        environ["CONTENT_TYPE"] = _latin(request.content_type)
    for name, value in request.headers.items():
        key = name.upper().replace("-", "_")
        environ[key if key.startswith("CONTENT_") and key != "CONTENT_ENCODING" else f"HTTP_{key}"] = _latin(value)
    return environ


def _latin(text: str) -> str:
    return text.encode("utf-8", "surrogatepass").decode("latin-1")
