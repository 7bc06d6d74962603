"""Real servers for the tests: `manage.py serve` in a process of its own."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.test_settings import OURS, ROOT


def answers(port: int) -> bool:
    """Does somebody take a connection there?"""
    with socket.socket() as caller:
        caller.settimeout(1)
        return caller.connect_ex(("127.0.0.1", port)) == 0


def _hears_ctrl_c() -> None:
    signal.signal(signal.SIGINT, signal.default_int_handler)


def begin(folder: Path, *arguments: str, **env: str) -> subprocess.Popen[str]:
    """Start manage.py with a data folder of its own; what it says is read from `stdout`, faults included."""
    clean = {k: v for k, v in os.environ.items() if not k.startswith(OURS)}
    return subprocess.Popen(
        [sys.executable, str(ROOT / "manage.py"), *arguments],
        env={**clean, "TRAVELLER_DATA": str(folder), "PYTHONUNBUFFERED": "1", **env},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        # Whoever runs the tests in the background of a shell hands on that Ctrl-C is ignored.
        preexec_fn=_hears_ctrl_c,
    )


@contextmanager
def serving(folder: Path, port: int, *arguments: str, **env: str) -> Iterator[subprocess.Popen[str]]:
    """A server that takes connections, stopped afterwards."""
    address = {"TRAVELLER_ADDRESS": f"http://127.0.0.1:{port}", **env}
    with begin(folder, "serve", "--workers", "1", "--port", str(port), *arguments, **address) as server:
        try:
            until = time.monotonic() + 60
            while not answers(port):
                if server.poll() is not None or time.monotonic() > until:
                    server.kill()
                    raise AssertionError(f"the server did not start: {server.communicate(timeout=30)[0]}")
                time.sleep(0.1)
            yield server
        finally:
            stop(server)


def stop(server: subprocess.Popen[str]) -> None:
    """Ask it to end, and wait for that; AssertionError where it does not hear."""
    if server.poll() is None:
        server.send_signal(signal.SIGINT)
    try:
        server.communicate(timeout=30)
    except subprocess.TimeoutExpired:
        server.kill()
        raise AssertionError(f"it was not stopped by Ctrl-C: {server.communicate(timeout=30)[0]}") from None
