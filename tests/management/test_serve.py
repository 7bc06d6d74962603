"""`manage.py serve` serves pages and static files, or says why it will not."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from tests.test_settings import ROOT, manage


def answer(url: str) -> tuple[int, bytes]:
    """Status and body, whatever the status."""
    try:
        with urllib.request.urlopen(url, timeout=10) as found:
            return found.status, found.read()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.read()


def test_without_an_address_it_refuses_and_says_why_https(tmp_path: Path) -> None:
    done = manage(tmp_path, "serve")
    assert done.returncode == 1
    assert "TRAVELLER_ADDRESS is not set" in done.stderr
    assert "paper outlives" in done.stderr and "offline" in done.stderr


def test_an_https_address_needs_a_certificate_or_a_named_proxy(tmp_path: Path) -> None:
    done = manage(tmp_path, "serve", TRAVELLER_ADDRESS="https://trace.example")
    assert done.returncode == 1
    assert "TRAVELLER_PROXY_HEADER" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--certificate", "a.pem"), "belong together"),
        (("--certificate", "a.pem", "--key", "b.pem"), "There is no file a.pem"),
        ((), "lacks"),
    ],
)
def test_what_is_not_ready_is_refused_in_words(tmp_path: Path, arguments: tuple[str, ...], told: str) -> None:
    done = manage(tmp_path, "serve", *arguments, TRAVELLER_ADDRESS="http://127.0.0.1:8000")
    assert done.returncode == 1
    assert told in done.stderr


def test_it_serves_static_files_for_ever_and_refuses_a_stranger_s_host(tmp_path: Path) -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    address = f"http://127.0.0.1:{port}"
    env = {**os.environ, "TRAVELLER_DATA": str(tmp_path), "TRAVELLER_ADDRESS": address, "DATABASE_URL": ""}
    command = [sys.executable, str(ROOT / "manage.py"), "serve", "--migrate", "--port", str(port)]
    with subprocess.Popen(command, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:
        try:
            until = time.monotonic() + 60
            while time.monotonic() < until and server.poll() is None:
                try:
                    answer(address)
                    break
                except (urllib.error.URLError, ConnectionError):
                    time.sleep(0.2)
            assert server.poll() is None
            paths = json.loads((tmp_path / "static" / "staticfiles.json").read_text())["paths"]
            stylesheet = next(hashed for name, hashed in paths.items() if name.endswith(".css"))
            status, body = answer(f"{address}/static/{stylesheet}")
            assert (status, bool(body)) == (200, True)
            stranger = urllib.request.Request(f"{address}/sign-in", headers={"Host": "elsewhere.example"})
            with pytest.raises(urllib.error.HTTPError) as refused, urllib.request.urlopen(stranger):
                pass
            refused.value.close()
            assert refused.value.code == 400
        finally:
            server.send_signal(signal.SIGINT)
            server.wait(timeout=20)
