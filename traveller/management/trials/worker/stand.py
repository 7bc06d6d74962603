"""What the trial stands on: data of its own, the real `manage.py work` as a process, and the hand in the data."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

import psycopg

from traveller.management.trials.hostile import processes
from traveller.management.trials.hostile.processes import Process
from traveller.management.trials.hostile.serving import PROJECT, Surroundings

STOPPED_WITHIN_S, GRACE_S = 30.0, 8.0
DECODER = "decode/child.py"


class Lost(RuntimeError):
    """The trial could not go on: in words, what did not happen."""


@dataclass
class Around(Surroundings):
    """Surroundings with a database: empty for a file in the data folder."""

    database: str = ""

    def environment(self) -> dict[str, str]:
        return {**super().environment(), "DATABASE_URL": self.database}


@dataclass
class Stand:
    """The worker and the hand. `known`: every process of the worker's that was ever seen."""

    around: Around
    known: dict[Process, str] = field(default_factory=dict)
    worker: subprocess.Popen[bytes] | None = None
    _hand: subprocess.Popen[str] | None = None

    def do(self, deed: str, **given: Any) -> Any:
        """Let the hand do this. Raises Lost when it cannot."""
        if self._hand is None:
            with open(self.around.home / "hand.log", "a", encoding="utf-8") as log:
                self._hand = subprocess.Popen(
                    [sys.executable, "-m", f"{__package__}.hand"], env=self.around.environment(),
                    cwd=self.around.home / "work", stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=log, text=True,
                )  # fmt: skip
        assert self._hand.stdin is not None and self._hand.stdout is not None
        with suppress(BrokenPipeError):
            self._hand.stdin.write(json.dumps([deed, given]) + "\n")
            self._hand.stdin.flush()
        line = self._hand.stdout.readline()
        if not line:
            words = (self.around.home / "hand.log").read_text(encoding="utf-8", errors="replace")
            raise Lost(f"{deed} failed: {words[-1500:]}")
        return json.loads(line)

    def start(self) -> None:
        """`manage.py work` as a maker starts it."""
        with open(self.around.home / "worker.log", "ab") as log:
            self.worker = subprocess.Popen(
                [sys.executable, str(PROJECT / "manage.py"), "work"],
                env={**self.around.environment(), "TRAVELLER_SERVING": "1"}, cwd=self.around.home / "work",
                stdin=subprocess.DEVNULL, stdout=log, stderr=log, start_new_session=True,
            )  # fmt: skip

    def stop(self) -> None:
        """As Ctrl-C would; by force when that does not end it."""
        if self.worker is None:
            return
        self.look()
        self.worker.send_signal(signal.SIGINT)
        with suppress(subprocess.TimeoutExpired):
            self.worker.wait(STOPPED_WITHIN_S)
        if self.worker.poll() is None:
            self.worker.kill()
            self.worker.wait()
        self.worker = None

    def look(self) -> None:
        """Take down which processes the worker has now."""
        if self.worker is not None and self.worker.poll() is None:
            for one in processes.family_of(self.worker.pid):
                self.known.setdefault(one, processes.command(one.pid))

    def now(self, what: str) -> int | None:
        """The number of the process whose command says this, the newest of them; None where there is none."""
        self.look()
        running = processes.alive([one for one, said in self.known.items() if what in said])
        return max(running, key=lambda one: one.born).pid if running else None

    def left(self) -> list[str]:
        """Processes of the worker's that still run a few seconds after it was stopped; they are ended now."""
        return processes.outlived(self.known, GRACE_S)

    def verified(self) -> str:
        """The last line of `manage.py verify`."""
        done = subprocess.run(
            [sys.executable, str(PROJECT / "manage.py"), "verify"], env=self.around.environment(),
            cwd=self.around.home / "work", capture_output=True, text=True, check=False,
        )  # fmt: skip
        return (done.stdout.splitlines() or [done.stderr[-300:]])[-1]

    def close(self) -> None:
        """Nothing of the trial's runs on, whatever became of it."""
        self.stop()
        processes.end_all(list(self.known))
        if self._hand is not None:
            self._hand.kill()
            self._hand.communicate()


def until(holds: Callable[[], Any], within_s: float, what: str, look_s: float = 0.05) -> Any:
    """What `holds` answers as soon as it is something. Raises Lost."""
    end = time.monotonic() + within_s
    while time.monotonic() < end:
        if found := holds():
            return found
        time.sleep(look_s)
    raise Lost(f"not within {within_s:.0f} s: {what}")


@contextmanager
def stand_of(home: Path, server: str) -> Iterator[Stand]:
    """A stand on SQLite, or in a database made for this on the PostgreSQL `server` (a URL) and removed in the end."""
    if not server:
        with _closed(Stand(Around(home))) as stand:
            yield stand
        return
    parts = urlsplit(server)
    name = f"traveller_trial_{os.getpid()}"
    with psycopg.connect(urlunsplit(parts._replace(path="/postgres")), autocommit=True) as admin:
        admin.execute(f'CREATE DATABASE "{name}"')
        try:
            with _closed(Stand(Around(home, database=urlunsplit(parts._replace(path=f"/{name}"))))) as stand:
                yield stand
        finally:
            admin.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


@contextmanager
def _closed(stand: Stand) -> Iterator[Stand]:
    try:
        yield stand
    finally:
        stand.close()
