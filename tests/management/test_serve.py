"""`manage.py serve` serves pages and static files, or says why it will not."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from django.conf import settings

from tests.test_settings import ROOT, manage
from traveller.decode.slots import slot
from traveller.management.commands import serve as command
from traveller.management.commands.serve import loopback
from traveller.management.ports import unused


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
    ("arguments", "reported"),
    [
        (("--certificate", "a.pem"), "belong together"),
        (("--certificate", "a.pem", "--key", "b.pem"), "There is no file a.pem"),
        ((), "lacks"),
    ],
)
def test_what_is_not_ready_is_refused_in_words(tmp_path: Path, arguments: tuple[str, ...], reported: str) -> None:
    done = manage(tmp_path, "serve", *arguments, TRAVELLER_ADDRESS="http://127.0.0.1:8000")
    assert done.returncode == 1
    assert reported in done.stderr


@pytest.mark.parametrize(
    ("address", "arguments"),
    [("http://127.0.0.1:8000", ("--host", "0.0.0.0")), ("https://trace.example", ())],
)
def test_debug_is_for_this_machine_alone(tmp_path: Path, address: str, arguments: tuple[str, ...]) -> None:
    given = {"TRAVELLER_ADDRESS": address, "TRAVELLER_DEBUG": "1", "TRAVELLER_PROXY_HEADER": "X-Forwarded-Proto"}
    done = manage(tmp_path, "serve", *arguments, **given)
    assert done.returncode == 1
    assert "TRAVELLER_DEBUG is 1" in done.stderr and "for this machine alone" in done.stderr


@pytest.mark.parametrize(
    ("host", "alone"),
    [
        ("127.0.0.1", True), ("127.8.0.1", True), ("::1", True), ("[::1]", True), ("localhost", True),
        ("0.0.0.0", False), ("::", False), ("192.168.1.5", False), ("trace.example", False), ("local.example", False),
    ],
)  # fmt: skip
def test_only_the_loopback_is_this_machine_alone(host: str, alone: bool) -> None:
    assert loopback(host) is alone


def test_debug_on_this_machine_goes_on_to_the_next_question(tmp_path: Path) -> None:
    done = manage(tmp_path, "serve", TRAVELLER_ADDRESS="http://127.0.0.1:8000", TRAVELLER_DEBUG="1")
    assert "lacks" in done.stderr and "TRAVELLER_DEBUG" not in done.stderr


def test_it_serves_static_files_for_ever_and_refuses_a_stranger_s_host(tmp_path: Path) -> None:
    port = unused()
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


def test_static_files_are_collected_by_one_process_at_a_time(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(settings, "DECODE_PLACE", tmp_path)
    order: list[str] = []
    monkeypatch.setattr(command, "call_command", lambda name, **options: order.append(name))
    with slot(tmp_path, ("static",), 0):
        other = threading.Thread(target=command.collect_static)
        other.start()
        other.join(0.3)
        order.append("let go")
    other.join(30)
    assert order == ["let go", "collectstatic"]
