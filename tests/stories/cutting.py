"""A phone whose line breaks: it sends so many bytes of a request, reads so many of the answer, and hangs up."""

from __future__ import annotations

import json
import socket
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

HOST = "127.0.0.1"
PATIENCE_S = 20


@dataclass(frozen=True, slots=True)
class Cut:
    """Where the line breaks: after `sent` of the request's bytes; then, if all were sent, after `read` of the answer.

    Shares of the whole: 0 none, 1 all. `reset`: torn off, as when the radio goes, instead of closed.
    """

    sent: float
    read: float = 0.0
    reset: bool = True


@dataclass(frozen=True, slots=True)
class Line:
    """How to reach the server, and the pass."""

    port: int
    cookies: Mapping[str, str]

    def request(self, envelope: Mapping[str, Any]) -> bytes:
        body = json.dumps(envelope).encode()
        cookie = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        head = (
            f"POST /here/queue HTTP/1.1\r\nHost: {HOST}:{self.port}\r\nCookie: {cookie}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\nConnection: close\r\n\r\n"
        )
        return head.encode() + body

    def broken(self, envelope: Mapping[str, Any], cut: Cut) -> bytes:
        """Send until the line breaks; what of the answer was read."""
        whole = self.request(envelope)
        with socket.create_connection((HOST, self.port), timeout=PATIENCE_S) as line:
            if cut.reset:
                line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            line.sendall(whole[: round(cut.sent * len(whole))])
            if cut.sent < 1 or not cut.read:
                return b""
            # How long the answer is, nobody knows before: the share is of what the shortest answer has.
            wanted, got = round(cut.read * 200), b""
            while len(got) < wanted:
                more = line.recv(wanted - len(got))
                if not more:
                    break
                got += more
            return got

    def answered(self, envelope: Mapping[str, Any]) -> tuple[int, Any]:
        """Send and read to the end."""
        with socket.create_connection((HOST, self.port), timeout=PATIENCE_S) as line:
            line.sendall(self.request(envelope))
            got = b""
            while more := line.recv(65536):
                got += more
        head, _, body = got.partition(b"\r\n\r\n")
        return int(head.split()[1]), json.loads(body)
