"""`manage.py serve` in its own processes, to be killed at any moment; without root's right to write everywhere."""

from __future__ import annotations

import http.client
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
HOST = "127.0.0.1"
READY_WITHIN_S = 120
# Root may write what is read-only: without this right it is refused like anybody else.
AS_ANYBODY = ("setpriv", "--bounding-set=-dac_override,-dac_read_search", "--inh-caps=-dac_override,-dac_read_search")


def as_anybody() -> tuple[str, ...]:
    """What to put before a command so that permissions count for it; nothing where we are not root."""
    return AS_ANYBODY if os.geteuid() == 0 and shutil.which("setpriv") else ()


@dataclass
class Server:
    """The server on `port` with its environment; what it says goes to `log`."""

    port: int
    environment: Mapping[str, str]
    log: Path
    workers: int = 2
    # Of some phone: with it, whoever is asked has to look into the database.
    cookie: str = ""
    _process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    def start(self) -> None:
        # Past manage.py, which first looks whether everything is installed: that is no part of a restart.
        command = [*as_anybody(), sys.executable, "-m", "django", "serve", "--port", str(self.port)]
        with self.log.open("ab") as log:
            self._process = subprocess.Popen(
                [*command, "--workers", str(self.workers)],
                env={**self.environment, "TRAVELLER_SERVING": "1"},
                cwd=ROOT,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self.wait()

    def kill(self) -> None:
        """As a power cut would: all its processes at once."""
        assert self._process is not None
        with suppress(ProcessLookupError):
            os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()

    def stop(self) -> None:
        if self._process is not None and self._process.poll() is None:
            self.kill()

    def kill_workers(self) -> None:
        """Only those that answer; who watches them starts others, which open the database anew."""
        for pid in self.workers_now():
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)

    def workers_now(self) -> list[int]:
        """All processes of the server but the first."""
        assert self._process is not None
        found = []
        for path in Path("/proc").glob("[0-9]*/stat"):
            with suppress(OSError):
                fields = path.read_text().rpartition(")")[2].split()
                if int(fields[2]) == self._process.pid and int(path.parent.name) != self._process.pid:
                    found.append(int(path.parent.name))
        return found

    def wait(self, *, well: bool = False) -> None:
        """Until somebody answers; `well`: until a page that needs the database is no longer a 503."""
        end = time.monotonic() + READY_WITHIN_S
        while time.monotonic() < end:
            assert self._process is not None
            if self._process.poll() is not None:
                raise RuntimeError(f"the server ended: {self.log.read_text('utf-8')[-2000:]}")
            status = self.status()
            if status and not (well and status >= 500):
                return
            time.sleep(0.1)
        raise RuntimeError("the server did not answer")

    def status(self) -> int:
        """The status of a page that needs the database (405 where all is well); 0 when nobody answered."""
        asked = http.client.HTTPConnection(HOST, self.port, timeout=30)
        try:
            asked.request("GET", "/here/queue", headers={"Cookie": self.cookie})
            return asked.getresponse().status
        except (OSError, http.client.HTTPException):
            return 0
        finally:
            asked.close()
