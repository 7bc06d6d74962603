"""The line between phones and server: it can break before, in and after an answer, and reads every status."""

from __future__ import annotations

import http.client
import re
import socket
import threading
from collections import Counter, deque
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Literal

HOST = "127.0.0.1"
STATUS = re.compile(rb"^HTTP/1\.[01] (\d{3})")
# before: torn before the server hears anything. asking: in the middle of the request. deaf: heard, the answer is lost.
# answering: in the middle of the answer. after: as soon as the answer was delivered.
Where = Literal["before", "asking", "deaf", "answering", "after"]


@dataclass(frozen=True, slots=True)
class Cut:
    """Where the line breaks under the next sending of a queue; `share` of the request or answer gets through."""

    where: Where
    share: float = 0.5


@dataclass
class Line:
    """`port` is the server's. `keeper_head`: lines put before the keeper, for a browser that lacks something."""

    port: int
    keeper_head: str = ""
    cuts: deque[Cut] = field(default_factory=deque)
    statuses: Counter[int] = field(default_factory=Counter)
    cut_so_far: int = 0
    nobody: int = 0
    _listener: socket.socket = field(default_factory=lambda: socket.create_server((HOST, 0)))

    @property
    def address(self) -> str:
        return f"http://{HOST}:{self._listener.getsockname()[1]}"

    def start(self) -> Line:
        threading.Thread(target=self._serve, daemon=True).start()
        return self

    def close(self) -> None:
        self._listener.close()

    def _serve(self) -> None:
        while True:
            try:
                phone, _address = self._listener.accept()
            except OSError:
                return
            threading.Thread(target=self._carry, args=(phone,), daemon=True).start()

    def _carry(self, phone: socket.socket) -> None:
        try:
            server = socket.create_connection((HOST, self.port), timeout=120)
        except OSError:
            self.nobody += 1
            phone.close()
            return
        way = _Way(self, phone, server)
        threading.Thread(target=way.answers, daemon=True).start()
        way.asks()


@dataclass
class _Way:
    """One connection through the line."""

    line: Line
    phone: socket.socket
    server: socket.socket
    cut: Cut | None = None

    def asks(self) -> None:
        """Phone to server."""
        with suppress(OSError):
            while data := self.phone.recv(65536):
                if self.line.keeper_head and data.startswith(b"GET /keeper.js"):
                    self._keeper()
                    continue
                if data.startswith(b"POST /here/queue") and self.line.cuts:
                    with suppress(IndexError):
                        self.cut = self.line.cuts.popleft()
                        self.line.cut_so_far += 1
                if self.cut and self.cut.where == "before":
                    break
                if self.cut and self.cut.where == "asking":
                    self.server.sendall(data[: int(len(data) * self.cut.share)])
                    break
                self.server.sendall(data)
        self.end()

    def answers(self) -> None:
        """Server to phone."""
        with suppress(OSError):
            while data := self.server.recv(65536):
                found = STATUS.match(data)
                if found:
                    self.line.statuses[int(found[1])] += 1
                if self.cut and self.cut.where == "deaf":
                    break
                if self.cut and self.cut.where == "answering":
                    self.phone.sendall(data[: int(len(data) * self.cut.share)])
                    break
                self.phone.sendall(data)
                if self.cut and self.cut.where == "after":
                    break
        self.end()

    def end(self) -> None:
        for one in (self.phone, self.server):
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()

    def _keeper(self) -> None:
        asked = http.client.HTTPConnection(HOST, self.line.port, timeout=30)
        try:
            asked.request("GET", "/keeper.js")
            answer = asked.getresponse()
            body = self.line.keeper_head.encode() + answer.read()
        finally:
            asked.close()
        head = (
            f"HTTP/1.1 {answer.status} As said\r\nContent-Type: text/javascript\r\nService-Worker-Allowed: /\r\n"
            f"Cache-Control: no-cache\r\nContent-Length: {len(body)}\r\n\r\n"
        )
        self.phone.sendall(head.encode() + body)
