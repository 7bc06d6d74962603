"""A server of a phone's queue that fails as it is told to, and remembers what it stored and what it answered.

Each request meets the next fate of the plan; when the plan is used up, all goes well. What fails on the way has stored
its first entries or none, as a server that dies in the middle would have.
"""

from __future__ import annotations

import json
import re
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, Literal

# 500: a fault, in HTML. 503: an outage, in JSON with Retry-After. hang: no answer. torn: half an answer. closed: none.
# later: stored up to there, "later" from there on. page: somebody else's page in between.
Kind = Literal["500", "502", "503", "hang", "torn", "closed", "later", "page"]
HANG_S = 0.6


@dataclass(frozen=True, slots=True)
class Fate:
    """What becomes of one request: of its entries the first `stored` are stored before it fails."""

    kind: Kind
    stored: int = 0


@dataclass
class Script:
    """The plan and what came of it."""

    plan: list[Fate] = field(default_factory=list)
    stored: list[str] = field(default_factory=list)
    # Entries whose "stored" was written out whole, and those of them that came again nevertheless.
    answered: set[str] = field(default_factory=set)
    again: list[str] = field(default_factory=list)
    requests: list[float] = field(default_factory=list)
    asked: int = 0
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def meet(self, entries: list[str]) -> tuple[Fate | None, list[dict[str, str]]]:
        """Store what is to be stored; the fate, and the answers that the phone should get."""
        with self._lock:
            self.requests.append(time.monotonic())
            self.again += [one for one in entries if one in self.answered]
            fate = self.plan.pop(0) if self.plan else None
            if not entries:
                self.asked += 1
            taken = entries if fate is None else entries[: fate.stored]
            self.stored += [one for one in taken if one not in self.stored]
            answers = [{"id": one, "state": "stored" if one in taken else "later"} for one in entries]
            if fate is None or fate.kind == "later":
                self.answered |= set(taken)
            return fate, answers


def handler(script: Script) -> type[BaseHTTPRequestHandler]:
    """The handler of one script's server."""

    class Handler(BaseHTTPRequestHandler):
        def log_message(self, *_args: Any) -> None:
            pass

        def do_GET(self) -> None:
            self._say(200, b"<!doctype html><title>a phone</title>", "text/html")

        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            found = re.search(rb'\{"site".*\}', body)
            assert found is not None
            fate, answers = script.meet([entry["id"] for entry in json.loads(found[0])["entries"]])
            good = json.dumps({"now": 1, "answers": answers}).encode()
            if fate is None or fate.kind == "later":
                self._say(200, good, "application/json")
            elif fate.kind == "hang":
                time.sleep(HANG_S)
            elif fate.kind == "torn":
                self._say(200, good, "application/json", len(good) + 50)
            elif fate.kind == "page":
                self._say(200, b"<p>Welcome to our network", "text/html")
            elif fate.kind == "503":
                self._say(503, b'{"error": "database_away", "words": "no"}', "application/json")
            elif fate.kind in ("500", "502"):
                self._say(int(fate.kind), b"<h1>Server Error</h1>", "text/html")
            self.close_connection = True

        def _say(self, status: int, body: bytes, kind: str, length: int | None = None) -> None:
            with suppress(OSError):
                self.send_response(status)
                self.send_header("Content-Type", kind)
                self.send_header("Content-Length", str(len(body) if length is None else length))
                self.end_headers()
                self.wfile.write(body)

    return Handler


@contextmanager
def scripted(script: Script) -> Iterator[str]:
    """The address of a server that follows the script; it ends with the test."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler(script))
    server.daemon_threads = True
    threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}"
    finally:
        server.shutdown()
        server.server_close()
