"""A wire between the browser and the server that can be cut at any point, and that counts what went over it.

The browser knows the wire's address only. Unlike the browser's own "offline" switch, a cut wire is what a phone meets:
the radio says that all is well, and nothing comes back.
"""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from typing import Literal
from urllib.parse import urlsplit

# up: all goes through. down: nobody answers at the door. silent: taken, and never answered.
# deaf: the server hears and does it, the answer is lost. ill: whoever answers has a fault.
State = Literal["up", "down", "silent", "deaf", "ill"]
ILL = b"HTTP/1.1 500 Fault\r\nContent-Type: text/html\r\nContent-Length: 4\r\nConnection: close\r\n\r\nIll."


@dataclass
class Wire:
    """`address` is for the browser; `to_browser` counts the bytes that came to it."""

    target: tuple[str, int]
    state: State = "up"
    to_browser: int = 0
    to_server: int = 0
    _listener: socket.socket = field(default_factory=lambda: socket.create_server(("127.0.0.1", 0)))
    _open: set[socket.socket] = field(default_factory=set)
    _closed: bool = False

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self._listener.getsockname()[1]}"

    def be(self, state: State) -> None:
        """Change the wire's state; connections that stand are torn down, as when a phone walks out of reach."""
        self.state = state
        for one in list(self._open):
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    def serve(self) -> None:
        while not self._closed:
            try:
                browser, _address = self._listener.accept()
            except OSError:
                return
            if self.state == "down":
                browser.close()
                continue
            threading.Thread(target=self._carry, args=(browser,), daemon=True).start()

    def _carry(self, browser: socket.socket) -> None:
        if self.state == "silent":
            self._open.add(browser)
            with suppress(OSError):
                while browser.recv(65536):
                    pass
            browser.close()
            return
        if self.state == "ill":
            self._fault(browser)
            return
        try:
            server = socket.create_connection(self.target, timeout=30)
        except OSError:
            browser.close()
            return
        self._open |= {browser, server}
        back = threading.Thread(target=self._pump, args=(server, browser, False), daemon=True)
        back.start()
        self._pump(browser, server, True)
        back.join(timeout=60)
        self._open -= {browser, server}
        for one in (browser, server):
            one.close()

    def _fault(self, browser: socket.socket) -> None:
        """Read what was sent, so that it is not torn off, and answer with a fault."""
        browser.settimeout(0.3)
        with suppress(OSError):
            while browser.recv(65536):
                pass
        with suppress(OSError):
            browser.sendall(ILL)
        browser.close()

    def _pump(self, source: socket.socket, sink: socket.socket, outward: bool) -> None:
        with suppress(OSError):
            while data := source.recv(65536):
                if outward:
                    self.to_server += len(data)
                elif self.state == "deaf":
                    break
                else:
                    self.to_browser += len(data)
                sink.sendall(data)
        for one in (source, sink):
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        self._closed = True
        self._listener.close()
        self.be("down")


@contextmanager
def wire_to(url: str) -> Iterator[Wire]:
    """A wire to a server; it ends with the test."""
    parts = urlsplit(url)
    wire = Wire((parts.hostname or "127.0.0.1", parts.port or 80))
    thread = threading.Thread(target=wire.serve, daemon=True)
    thread.start()
    try:
        yield wire
    finally:
        wire.close()
