"""The real server on a data folder of the trial's own, and everything around it where it must not write."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.conf import settings

from traveller.management.ports import unused
from traveller.management.trials.hostile import processes
from traveller.management.trials.hostile.caller import HOST, NotLetIn
from traveller.management.trials.hostile.files.postscript import MARK

PROJECT = Path(settings.ROOT)
READY_WITHIN_S, STOPPED_WITHIN_S, GRACE_S = 300, 30, 5.0
LOOK_S = 0.25
_SHOWN = 6
FAULT = re.compile(r"^[\w.]+(Error|Exception|Warning|Refused|Expired)\b.*", re.MULTILINE)
NOT_LOOKED_AT = {".git", ".venv", ".data", "__pycache__", ".mypy_cache", ".ruff_cache", ".pytest_cache", ".hypothesis"}
SYSTEM = (Path("/tmp"), Path("/var/tmp"))


PORT_LOCK = re.compile(r"/traveller-\d+-port-\d+\.lock$")


@dataclass
class Surroundings:
    """A folder for the trial: `data` is the server's, all else is outside of it and must stay empty."""

    home: Path
    port: int = 0

    def __post_init__(self) -> None:
        self.port = unused()
        for name in ("data", "tmp", "away", "work"):
            (self.home / name).mkdir(mode=0o700, exist_ok=True)
        self._project = project_files()

    @property
    def mark(self) -> str:
        """What tells a process of this trial by its surroundings."""
        return f"TRAVELLER_DATA={self.home / 'data'}"

    def environment(self) -> dict[str, str]:
        own = {
            "TRAVELLER_DATA": str(self.home / "data"), "TRAVELLER_ADDRESS": f"http://{HOST}:{self.port}",
            "TRAVELLER_DEMO": "", "TRAVELLER_DEBUG": "", "TRAVELLER_SERVING": "", "DATABASE_URL": "",
            "TMPDIR": str(self.home / "tmp"), "HOME": str(self.home / "away"), "PYTHONDONTWRITEBYTECODE": "1",
            "DJANGO_SETTINGS_MODULE": "traveller.settings", "PYTHONPATH": str(PROJECT),
        }  # fmt: skip
        return {**os.environ, **own}

    def written(self) -> set[str]:
        """What lies now where nothing may be written."""
        found = {str(path) for name in ("tmp", "away", "work") for path in (self.home / name).rglob("*")}
        # The lock of its port lies where all servers of this machine find it, whatever they are sent.
        found = {path for path in found if not PORT_LOCK.search(path)}
        for folder in SYSTEM:
            with suppress(OSError):
                found |= {str(path) for path in folder.iterdir() if path.name.startswith(MARK)}
        return found

    def changed_project(self) -> set[str]:
        """Files of the program that are new or other than when the trial began."""
        now = project_files()
        return {path for path, state in now.items() if self._project.get(path) != state}


def project_files() -> dict[str, tuple[int, int]]:
    """Size and time of every file of the program."""
    found: dict[str, tuple[int, int]] = {}
    for folder, names, files in os.walk(PROJECT):
        names[:] = [name for name in names if name not in NOT_LOOKED_AT]
        for name in files:
            with suppress(OSError):
                state = os.stat(os.path.join(folder, name))
                found[os.path.join(folder, name)] = (state.st_size, state.st_mtime_ns)
    return found


def staged(around: Surroundings, size: str) -> dict[str, Any]:
    """Make the maker's data; who takes part."""
    call = [sys.executable, "-m", f"{__package__}.stage", size]
    done = subprocess.run(
        call, env=around.environment(), cwd=around.home / "work", capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise RuntimeError(f"the trial's data could not be made: {done.stderr[-2000:]}")
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


@dataclass
class Watch:
    """Looks at the server's whole family until it is stopped: memory, processes, files where none may be.

    `largest`: who had most of the memory at the moment when there was most, in bytes.
    """

    root: int
    around: Surroundings
    most_bytes: int = 0
    largest: list[tuple[int, str]] = field(default_factory=list)
    most_processes: int = 0
    known: dict[processes.Process, str] = field(default_factory=dict)
    written: set[str] = field(default_factory=set)
    _marked: processes.Marked = field(init=False)
    _over: threading.Event = field(default_factory=threading.Event)
    _thread: threading.Thread | None = None

    def __post_init__(self) -> None:
        self._marked = processes.Marked(self.around.mark)

    def start(self) -> None:
        self._thread = threading.Thread(target=self._go_on, daemon=True)
        self._thread.start()

    def look(self) -> None:
        """Once."""
        own = processes.family_of(self.root, self._marked)
        for one in own:
            if one not in self.known:
                self.known[one] = processes.command(one.pid)
        self.most_processes = max(self.most_processes, len(own))
        shares = {one: processes.share(one.pid) for one in own}
        if sum(shares.values()) > self.most_bytes:
            self.most_bytes = sum(shares.values())
            self.largest = sorted(((size, self.known[one]) for one, size in shares.items()), reverse=True)[:_SHOWN]
        self.written |= self.around.written()

    def _go_on(self) -> None:
        while not self._over.wait(LOOK_S):
            self.look()

    def stop(self) -> None:
        self._over.set()
        if self._thread is not None:
            self._thread.join()

    def left(self) -> list[str]:
        """Processes that still run a few seconds after the server was stopped; they are ended now."""
        return processes.outlived(self.known, GRACE_S)


def faults_in(log: str) -> list[str]:
    """The last line of each traceback in a server's log, the most frequent first."""
    lines = Counter(found[0][:160] for found in FAULT.finditer(log))
    return [f"{count} x {line}" for line, count in lines.most_common()]


@contextmanager
def serving(around: Surroundings) -> Iterator[Watch]:
    """`manage.py serve` as a maker starts it, watched all the while; stopped as by Ctrl-C when the block ends."""
    call = [sys.executable, str(PROJECT / "manage.py"), "serve", "--port", str(around.port)]
    environment = {**around.environment(), "TRAVELLER_SERVING": "1"}
    with open(around.home / "server.log", "wb") as log:
        server = subprocess.Popen(
            call, env=environment, cwd=around.home / "work", stdin=subprocess.DEVNULL, stdout=log, stderr=log,
            start_new_session=True,
        )  # fmt: skip
    watch = Watch(server.pid, around)
    try:
        _until_ready(server, around)
        watch.start()
        yield watch
        watch.stop()
        watch.look()
    finally:
        watch.stop()
        _stop(server)


def _until_ready(server: subprocess.Popen[bytes], around: Surroundings) -> None:
    until = time.monotonic() + READY_WITHIN_S
    while time.monotonic() < until:
        if server.poll() is not None:
            break
        line = http.client.HTTPConnection(HOST, around.port, timeout=10)
        try:
            line.request("GET", "/sign-in")
            line.getresponse().read()
            return
        except (OSError, http.client.HTTPException):
            time.sleep(0.1)
        finally:
            line.close()
    raise NotLetIn("the server did not start")


def _stop(server: subprocess.Popen[bytes]) -> None:
    """As Ctrl-C would; by force when that does not end it."""
    if server.poll() is None:
        server.send_signal(signal.SIGINT)
        with suppress(subprocess.TimeoutExpired):
            server.wait(STOPPED_WITHIN_S)
    if server.poll() is None:
        server.kill()
        server.wait()
