"""A browser reduced to what a stranger needs: cookies, forms with files, patience; and a tally of what was answered."""

from __future__ import annotations

import http.client
import threading
import time
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from http.cookies import SimpleCookie
from urllib.parse import urlencode, urlsplit
from uuid import uuid4

HOST = "127.0.0.1"
NO_ANSWER = 0
# Without a pass, without a form's token, or no such page: then the file was not tried at all.
NOT_LET_IN = {401, 403, 404, 405}
File = tuple[str, str, bytes]


@dataclass(frozen=True, slots=True)
class Heard:
    """`status` NO_ANSWER: nothing came in time, or the line broke."""

    status: int
    seconds: float
    place: str = ""
    body: bytes = b""


@dataclass
class Tally:
    """Every answer of the trial by its status; by their address those with 5xx, and forms that no page looked at."""

    statuses: Counter[int] = field(default_factory=Counter)
    faults: Counter[str] = field(default_factory=Counter)
    turned_away: Counter[str] = field(default_factory=Counter)
    _lock: threading.Lock = field(default_factory=threading.Lock, repr=False)

    def note(self, what: str, answer: Heard) -> None:
        with self._lock:
            self.statuses[answer.status] += 1
            if answer.status >= 500:
                self.faults[f"{answer.status} {what}"] += 1
            if what.startswith("POST") and answer.status in NOT_LET_IN:
                self.turned_away[f"{answer.status} {what}"] += 1


@dataclass
class Caller:
    """One browser or phone. A form's token is fetched once, as a page would have brought it."""

    port: int
    tally: Tally
    patience_s: float = 60.0
    cookies: dict[str, str] = field(default_factory=dict)

    def get(self, path: str) -> Heard:
        return self._ask("GET", path, None, {})

    def post(self, path: str, fields: Mapping[str, object], files: Sequence[File] = (), what: str = "") -> Heard:
        """A form with a new id for its news; `files` are (field, name, content). `what` names it in the tally."""
        reported = {"news_id": str(uuid4()), **fields, "csrfmiddlewaretoken": self.token()}
        if not files:
            kind = "application/x-www-form-urlencoded"
            return self._ask("POST", path, urlencode(reported).encode(), {"Content-Type": kind}, what)
        kind, body = with_files([(name, str(value)) for name, value in reported.items()], files)
        return self._ask("POST", path, body, {"Content-Type": kind}, what)

    def raw(self, path: str, body: bytes, kind: str, what: str = "") -> Heard:
        """Any body at all, with the token in its head."""
        return self._ask("POST", path, body, {"Content-Type": kind, "X-CSRFToken": self.token(), "X-Queue": "1"}, what)

    def token(self) -> str:
        if "csrftoken" not in self.cookies:
            self.get("/sign-in")
        return self.cookies.get("csrftoken", "")

    def _ask(self, method: str, path: str, body: bytes | None, head: Mapping[str, str], what: str = "") -> Heard:
        line = http.client.HTTPConnection(HOST, self.port, timeout=self.patience_s)
        # No browser sends the header when it has none: the server takes an empty one for cookies it cannot read.
        cookies = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        own = {"Cookie": cookies} if cookies else {}
        began = time.monotonic()
        try:
            line.request(method, path, body, {**head, **own, "Connection": "close"})
            found = line.getresponse()
            content = found.read()
        except (OSError, http.client.HTTPException):
            answer = Heard(NO_ANSWER, time.monotonic() - began)
        else:
            self._keep(found.headers.get_all("Set-Cookie") or [])
            place = urlsplit(found.headers.get("Location", ""))
            answer = Heard(found.status, time.monotonic() - began, place.path, content)
        finally:
            line.close()
        self.tally.note(f"{method} {path} {what}".strip(), answer)
        return answer

    def _keep(self, rows: Iterable[str]) -> None:
        for row in rows:
            for name, morsel in SimpleCookie(row).items():
                if morsel.value:
                    self.cookies[name] = morsel.coded_value
                else:
                    self.cookies.pop(name, None)


def with_files(fields: Sequence[tuple[str, str]], files: Sequence[File]) -> tuple[str, bytes]:
    """Content type and body of a form with files."""
    mark = uuid4().hex
    out = bytearray()
    for name, value in fields:
        out += f'--{mark}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
    for name, called, content in files:
        out += f'--{mark}\r\nContent-Disposition: form-data; name="{name}"; filename="{called}"\r\n'.encode()
        out += b"Content-Type: application/octet-stream\r\n\r\n" + content + b"\r\n"
    return f"multipart/form-data; boundary={mark}", bytes(out + f"--{mark}--\r\n".encode())


class NotLetIn(RuntimeError):
    """The door did not open for an honest caller: the trial cannot begin."""


def phone(port: int, tally: Tally, token: str, person: str, patience_s: float = 60.0) -> Caller:
    """A phone that has opened this pass, and whose person has tapped a name."""
    found = Caller(port, tally, patience_s)
    opened = found.post(f"/pass/{token}", {"open": "1"})
    named = found.post("/person", {"name": person})
    if (opened.status, named.status) != (302, 302):
        raise NotLetIn(f"a pass was answered by {opened.status}, the name {person} by {named.status}")
    return found


def founder(port: int, tally: Tally, link: str, patience_s: float = 60.0) -> Caller:
    """A browser that is signed in as the founder."""
    found = Caller(port, tally, patience_s)
    answer = found.post(link, {})
    if answer.status != 302:
        raise NotLetIn(f"the founder's link was answered by {answer.status}")
    return found
