"""The production server on loopback, and a plain client with a site pass: a cookie, a form, nothing else."""

from __future__ import annotations

import http.client
import json
import os
import signal
import subprocess
import sys
import tempfile
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
from traveller.management.ports import unused
from traveller.web.person_cookie import PERSON_COOKIE, in_ascii
from traveller.web.phone_cookie import PHONE_COOKIE, new_phone
from traveller.web.who import PASS_COOKIE

ROOT = Path(__file__).resolve().parents[2]
HOST = "127.0.0.1"
READY_WITHIN_S = 120
# Sent back as cookie and as field: what the page would have given out itself.
CSRF = "b" * 32


@contextmanager
def serving(*options: str) -> Iterator[int]:
    """`manage.py serve` on this process's database; yields its port."""
    with running(*options) as server:
        yield server.port


@dataclass
class Server:
    """The server's processes, which can be killed at any moment and started again at the same port."""

    port: int
    options: tuple[str, ...] = ()
    database_url: str | None = None
    _process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    def start(self) -> None:
        given = {} if self.database_url is None else {"DATABASE_URL": self.database_url}
        environment = {**os.environ, **given, "TRAVELLER_ADDRESS": f"http://{HOST}:{self.port}"}
        environment["TRAVELLER_SERVING"] = "1"
        command = [sys.executable, str(ROOT / "manage.py"), "serve", "--port", str(self.port), *self.options]
        # A group of its own: a power cut takes the workers and who watches them at the same moment.
        with tempfile.TemporaryFile() as said:
            self._process = subprocess.Popen(command, env=environment, stdout=said, stderr=said, start_new_session=True)
            try:
                _wait(self._process, self.port)
            except RuntimeError as fault:
                said.seek(0)
                fault.add_note(said.read()[-2000:].decode(errors="replace"))
                raise

    def kill(self) -> None:
        """As a power cut would."""
        assert self._process is not None
        os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()

    def stop(self) -> None:
        if self._process is None or self._process.poll() is not None:
            return
        self._process.send_signal(signal.SIGINT)
        try:
            self._process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            self.kill()


@contextmanager
def running(*options: str, database_url: str | None = None) -> Iterator[Server]:
    """The same, for who wants to kill it; `database_url` where it is not this process's own."""
    server = Server(unused(), options, database_url)
    connection.close()  # SQLite's file belongs to the server's processes now
    try:
        server.start()
        yield server
    finally:
        server.stop()


def _wait(server: subprocess.Popen[bytes], port: int) -> None:
    """Until a page is answered: the port is open before the processes behind it are."""
    until = time.monotonic() + READY_WITHIN_S
    while time.monotonic() < until:
        if server.poll() is not None:
            raise RuntimeError(f"the server ended with {server.returncode}")
        line = http.client.HTTPConnection(HOST, port, timeout=10)
        try:
            line.request("GET", "/sign-in")
            line.getresponse().read()
            return
        except (OSError, http.client.HTTPException):
            time.sleep(0.1)
        finally:
            line.close()
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

    def queue(self, envelope: Mapping[str, object]) -> tuple[int, bytes]:
        """Send what was told without a signal; the status, and what is answered to each entry."""
        body = json.dumps(envelope)
        status, _headers, answer = self._ask("POST", "/here/queue", body, {"Content-Type": "application/json"})
        return status, answer

    def hang_up(self) -> None:
        """The next question opens a new connection."""
        if self._line is not None:
            self._line.close()
            self._line = None

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
    """What the door leaves on a phone: which phone it is, the pass, the name that was tapped, the form's token."""
    Person.objects.get_or_create(site=site, name=person, defaults={"initials": person[:2].upper()})
    signed = signing.get_cookie_signer(salt=PERSON_COOKIE).sign(in_ascii(person))
    return {PHONE_COOKIE: new_phone(), PASS_COOKIE: make_pass(site)[1], PERSON_COOKIE: signed, "csrftoken": CSRF}
