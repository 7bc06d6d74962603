"""The production server on loopback, and a plain client with a site pass: a cookie, a form, nothing else."""

from __future__ import annotations

import http.client
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode

from django.core import signing
from django.db import connection

from sites.models import Person, Site
from tests.cast import make_pass
from traveller.web.who import PASS_COOKIE, PERSON_COOKIE

ROOT = Path(__file__).resolve().parents[2]
HOST = "127.0.0.1"
READY_WITHIN_S = 120
# Sent back as cookie and as field: what the page would have given out itself.
CSRF = "b" * 32


@contextmanager
def serving() -> Iterator[int]:
    """`manage.py serve` on this process's database; yields its port."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        port = int(probe.getsockname()[1])
    environment = {**os.environ, "TRAVELLER_ADDRESS": f"http://{HOST}:{port}", "TRAVELLER_SERVING": "1"}
    command = [sys.executable, str(ROOT / "manage.py"), "serve", "--port", str(port)]
    connection.close()  # SQLite's file belongs to the server's processes now
    with subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:
        try:
            _wait(server, port)
            yield port
        finally:
            server.send_signal(signal.SIGINT)
            try:
                server.wait(timeout=20)
            except subprocess.TimeoutExpired:
                server.kill()


def _wait(server: subprocess.Popen[bytes], port: int) -> None:
    until = time.monotonic() + READY_WITHIN_S
    while time.monotonic() < until:
        if server.poll() is not None:
            raise RuntimeError(f"the server ended with {server.returncode}")
        try:
            with socket.create_connection((HOST, port), timeout=1):
                return
        except OSError:
            time.sleep(0.1)
    raise RuntimeError("the server did not start")


@dataclass
class Phone:
    """A phone that has opened its site's pass and keeps its connection."""

    port: int
    cookies: Mapping[str, str]
    _line: http.client.HTTPConnection | None = field(default=None, repr=False)

    def get(self, path: str, **headers: str) -> tuple[int, Mapping[str, str], bytes]:
        return self._ask("GET", path, None, headers)

    def post(self, path: str, form: Mapping[str, object]) -> int:
        """The status of the answer; 302 says that it was taken."""
        body = urlencode({**form, "csrfmiddlewaretoken": CSRF})
        return self._ask("POST", path, body, {"Content-Type": "application/x-www-form-urlencoded"})[0]

    def _ask(
        self, method: str, path: str, body: str | None, headers: Mapping[str, str]
    ) -> tuple[int, Mapping[str, str], bytes]:
        if self._line is None:
            self._line = http.client.HTTPConnection(HOST, self.port, timeout=60)
        cookie = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        self._line.request(method, path, body, {**headers, "Cookie": cookie})
        answer = self._line.getresponse()
        return answer.status, dict(answer.getheaders()), answer.read()


def cookies_of(site: Site, person: str = "Ines") -> dict[str, str]:
    """What the door leaves on a phone: the pass, the name that was tapped, the form's token."""
    Person.objects.get_or_create(site=site, name=person, defaults={"initials": person[:2].upper()})
    signed = signing.get_cookie_signer(salt=PERSON_COOKIE).sign(person)
    return {PASS_COOKIE: make_pass(site)[1], PERSON_COOKIE: signed, "csrftoken": CSRF}
