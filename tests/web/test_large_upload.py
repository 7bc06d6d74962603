"""Two hundred megabytes sent to the real server: refused in words, dropped on the way, never held or written whole."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html import unescape
from pathlib import Path

import pytest

from tests.test_settings import ROOT
from traveller.management.ports import unused

MEGABYTE = 1024 * 1024
SENT = 200 * MEGABYTE
# The stage is built by the tests' own cast, in a process of its own, since the server has its own database.
STAGE = """
import json, django
django.setup()
from tests import cast
from tests.web.oven import make_oven
oven = make_oven()
phone = cast.pass_client(oven.site)
print(json.dumps({"step": oven.step.pk, "cookies": "; ".join(f"{k}={v.value}" for k, v in phone.cookies.items())}))
"""


@pytest.fixture(scope="module")
def served(
    tmp_path_factory: pytest.TempPathFactory, migrated: Callable[[Path], None]
) -> Iterator[tuple[int, int, dict[str, str], Path]]:
    """Port, process, what stands on the stage, and the data folder of a real server."""
    folder = tmp_path_factory.mktemp("served")
    migrated(folder)
    scratch = folder / "scratch"
    scratch.mkdir()
    port = unused()
    env = {
        **os.environ, "TRAVELLER_DATA": str(folder), "TRAVELLER_ADDRESS": f"http://127.0.0.1:{port}",
        "DATABASE_URL": "", "TMPDIR": str(scratch), "DJANGO_SETTINGS_MODULE": "traveller.settings",
    }  # fmt: skip
    staged = subprocess.run([sys.executable, "-c", STAGE], env=env, cwd=ROOT, capture_output=True, text=True)
    assert staged.returncode == 0, staged.stderr
    command = [sys.executable, str(ROOT / "manage.py"), "serve", "--port", str(port), "--workers", "1"]
    with subprocess.Popen(command, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:
        try:
            until = time.monotonic() + 60
            while time.monotonic() < until and server.poll() is None:
                with socket.socket() as probe:
                    if probe.connect_ex(("127.0.0.1", port)) == 0:
                        break
                time.sleep(0.1)
            yield port, server.pid, json.loads(staged.stdout), folder
        finally:
            server.send_signal(signal.SIGINT)
            server.wait(timeout=20)


def peak_bytes(pid: int) -> int:
    """The most memory that the server and its worker ever held, as Linux counts it; nothing where it is another."""
    if not Path(f"/proc/{pid}").is_dir():
        return 0
    every = [pid, *map(int, Path(f"/proc/{pid}/task/{pid}/children").read_text().split())]
    found = [re.search(r"VmHWM:\s+(\d+) kB", Path(f"/proc/{one}/status").read_text()) for one in every]
    return sum(int(match[1]) * 1024 for match in found if match)


@contextmanager
def line_to(port: int) -> Iterator[http.client.HTTPConnection]:
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    try:
        yield line
    finally:
        line.close()


def waiting_bytes(folder: Path) -> int:
    """What lies where uploads wait, and among the system's temporary files, where they must not."""
    places = (folder / "incoming", folder / "scratch")
    return sum(file.stat().st_size for place in places for file in place.rglob("*") if file.is_file())


@pytest.mark.long
def test_two_hundred_megabytes_are_refused_in_words_without_being_held_or_written(
    served: tuple[int, int, dict[str, str], Path],
) -> None:
    port, pid, stage, folder = served
    cookies = f"{stage['cookies']}; csrftoken={'a' * 32}"
    path = f"/here/step/{stage['step']}/proof"
    fields = {"news_id": "0b0e6c1e-6f0c-4c6e-9c7e-0d1c7f0b5a11", "kind": "log", "csrfmiddlewaretoken": "a" * 32}
    head = "".join(f'--b\r\nContent-Disposition: form-data; name="{k}"\r\n\r\n{v}\r\n' for k, v in fields.items())
    head += '--b\r\nContent-Disposition: form-data; name="file"; filename="week.csv"\r\n\r\n'
    tail = "\r\n--b--\r\n"
    with line_to(port) as line:
        line.request("GET", path, headers={"Cookie": cookies})
        first = line.getresponse()
        assert first.status == 200, first.read()
        first.read()
        before, written = peak_bytes(pid), 0
        line.putrequest("POST", path)
        for name, value in (
            ("Cookie", cookies),
            ("Content-Type", "multipart/form-data; boundary=b"),
            ("Content-Length", str(len(head) + SENT + len(tail))),
        ):
            line.putheader(name, value)
        line.endheaders()
        line.send(head.encode())
        chunk = b"2026-03-03T14:02:00;85.0;85.1\r\n" * (MEGABYTE // 31 + 1)
        for _ in range(SENT // MEGABYTE):
            line.send(chunk[:MEGABYTE])
            written = max(written, waiting_bytes(folder))
        line.send(tail.encode())
        answer = line.getresponse()
        words = unescape(answer.read().decode())
    assert answer.status == 409
    assert "This file is larger than 25 megabytes: no log, photo or certificate is. Refused." in words
    assert fields["news_id"] in words, "the form comes back as it was sent"
    assert peak_bytes(pid) - before < 40 * MEGABYTE
    assert written < MEGABYTE


def test_a_large_upload_waits_in_the_data_folder_until_it_is_whole(
    served: tuple[int, int, dict[str, str], Path],
) -> None:
    port, _pid, stage, folder = served
    form = '--b\r\nContent-Disposition: form-data; name="file"; filename="week.csv"\r\n\r\n'
    with line_to(port) as line:
        line.putrequest("POST", f"/here/step/{stage['step']}/proof")
        line.putheader("Cookie", f"{stage['cookies']}; csrftoken={'a' * 32}")
        line.putheader("X-CSRFToken", "a" * 32)
        line.putheader("Content-Type", "multipart/form-data; boundary=b")
        line.putheader("Content-Length", str(12 * MEGABYTE))
        line.endheaders()
        line.send(form.encode() + bytes(10 * MEGABYTE))
        until = time.monotonic() + 30
        while not waiting_bytes(folder) and time.monotonic() < until:
            time.sleep(0.05)
        assert waiting_bytes(folder)
        # But for the lock of its port, which all servers of this machine must find.
        assert not [path for path in (folder / "scratch").iterdir() if "-port-" not in path.name]
