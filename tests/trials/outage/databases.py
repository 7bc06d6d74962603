"""Databases that may be stopped, filled up and locked: a SQLite file, and a PostgreSQL of the trial's own."""

from __future__ import annotations

import os
import resource
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from glob import glob
from pathlib import Path
from typing import Any

import psycopg

from tests.trials.outage.server import HOST, ROOT, Server, as_anybody
from traveller.management.ports import unused

# A disk that is soon full; PostgreSQL writes 16 MB at a time beside what a new cluster holds.
DISK_MB = {"SQLite": 60, "PostgreSQL": 260}
POSTGRES_USER = "postgres"


@dataclass
class Home:
    """A folder on a small disk of its own where we may make one, and how full it may get."""

    folder: Path
    mounted: bool

    def fill_up(self) -> Callable[[], None]:
        """Leave no room at all; what is called makes room again."""
        filler = self.folder / "filler"
        with filler.open("wb", buffering=0) as file, suppress(OSError):
            for size in (1 << 20, 1 << 12, 1):
                with suppress(OSError):
                    while True:
                        file.write(b"x" * size)
        return lambda: filler.unlink(missing_ok=True)


@contextmanager
def home(database: str, *, small: bool) -> Iterator[Home]:
    """Beside the real data, so that commits cost what they cost there; or on a small disk where we may make one."""
    base = ROOT / ".data"
    base.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="trial-", dir=base if database == "SQLite" else None) as name:
        folder = Path(name)
        mount = ["mount", "-t", "tmpfs", "-o", f"size={DISK_MB[database]}m", "trial", name]
        may = small and os.geteuid() == 0
        mounted = may and subprocess.run(mount, capture_output=True, check=False).returncode == 0
        folder.chmod(0o755)
        try:
            yield Home(folder, mounted)
        finally:
            if mounted:
                subprocess.run(["umount", "-l", name], check=True)


def limit_files(server: Server, size: int) -> Callable[[], None]:
    """No file of these processes may grow beyond `size`: a full disk where we may not make one. Undo by calling."""
    pids = server.workers_now()
    before = {}
    for pid in pids:
        before[pid] = resource.prlimit(pid, resource.RLIMIT_FSIZE)
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (size, before[pid][1]))

    def undo() -> None:
        for pid, limits in before.items():
            with suppress(ProcessLookupError):
                resource.prlimit(pid, resource.RLIMIT_FSIZE, limits)

    return undo


@dataclass
class Sqlite:
    """A file in a folder of its own."""

    home: Home
    name: str = "SQLite"

    @property
    def data(self) -> Path:
        return self.home.folder / "data"

    @property
    def url(self) -> str:
        return ""

    @property
    def file(self) -> Path:
        return self.data / "traveller.sqlite3"

    def lock(self, seconds: float) -> Callable[[], None]:
        """Another program holds the write lock until what is returned is called, or so long."""
        other = sqlite3.connect(self.file, isolation_level=None, timeout=20, check_same_thread=False)
        other.execute("BEGIN IMMEDIATE")
        done = threading.Event()

        def let_go() -> None:
            if not done.is_set():
                done.set()
                other.execute("ROLLBACK")
                other.close()

        threading.Timer(seconds, let_go).start()
        return let_go

    def read_only(self) -> Callable[[], None]:
        """Nothing in the folder may be written any more."""
        paths = [*self.data.glob("traveller.sqlite3*"), self.data]
        before = {path: path.stat().st_mode for path in paths}
        for path in paths:
            path.chmod(0o555 if path.is_dir() else 0o444)

        def back() -> None:
            for path, mode in before.items():
                with suppress(FileNotFoundError):
                    path.chmod(mode & 0o7777)

        return back


@dataclass
class Postgres:
    """A cluster of the trial's own, which listens on loopback only."""

    home: Home
    binaries: Path
    name: str = "PostgreSQL"
    port: int = 0
    _hogs: list[psycopg.Connection[Any]] = field(default_factory=list)

    @property
    def data(self) -> Path:
        return self.home.folder / "data"

    @property
    def cluster(self) -> Path:
        return self.home.folder / "cluster"

    @property
    def url(self) -> str:
        return f"postgres://traveller@{HOST}:{self.port}/traveller"

    def _run(self, *command: str) -> None:
        as_owner = ["runuser", "-u", POSTGRES_USER, "--"] if os.geteuid() == 0 else []
        done = subprocess.run([*as_owner, *command], cwd="/", capture_output=True, text=True, check=False)
        if done.returncode:
            raise RuntimeError(f"{command[0]}: {done.stderr or done.stdout}")

    def make(self) -> None:
        if os.geteuid() == 0:
            shutil.chown(self.home.folder, POSTGRES_USER)
        self.port = unused()
        self._run(str(self.binaries / "initdb"), "-D", str(self.cluster), "-U", POSTGRES_USER, "--auth=trust",
                  "-E", "UTF8", "--locale=C.UTF-8", "--wal-segsize=1")  # fmt: skip
        self.start()
        with self.admin() as admin:
            admin.execute("CREATE ROLE traveller LOGIN")
            admin.execute("CREATE DATABASE traveller OWNER traveller")

    def start(self) -> None:
        options = (
            f"-p {self.port} -c listen_addresses={HOST} -c unix_socket_directories={self.home.folder} "
            "-c max_connections=24 -c max_wal_size=8MB -c min_wal_size=2MB -c fsync=off"
        )
        pg_ctl = str(self.binaries / "pg_ctl")
        log = str(self.home.folder / "log")
        self._run(pg_ctl, "-D", str(self.cluster), "-l", log, "-w", "-t", "60", "-o", options, "start")

    def stop(self) -> None:
        with suppress(RuntimeError):
            self._run(str(self.binaries / "pg_ctl"), "-D", str(self.cluster), "-m", "immediate", "-w", "stop")

    def is_up(self) -> bool:
        try:
            self.admin().close()
        except psycopg.OperationalError:
            return False
        return True

    def admin(self) -> psycopg.Connection[Any]:
        url = f"postgres://{POSTGRES_USER}@{HOST}:{self.port}/postgres"
        return psycopg.connect(url, autocommit=True, connect_timeout=10)

    def use_up(self) -> Callable[[], None]:
        """Every connection that the server could have is taken; what is called gives them back."""
        of_ours = "FROM pg_stat_activity WHERE usename = 'traveller'"
        tear = f"SELECT pg_terminate_backend(pid) {of_ours} AND NOT pid = ANY(%s)"
        with self.admin() as admin:
            for _round in range(40):
                admin.execute(tear, [[hog.info.backend_pid for hog in self._hogs]])
                with suppress(psycopg.OperationalError):
                    while True:
                        self._hogs.append(psycopg.connect(self.url, connect_timeout=10))
                row = admin.execute(f"SELECT count(*) {of_ours}").fetchone()
                if row and row[0] == len(self._hogs):
                    break
                time.sleep(0.05)

        def give_back() -> None:
            while self._hogs:
                self._hogs.pop().close()

        return give_back

    def read_only(self) -> Callable[[], None]:
        """No file of the cluster may be opened to be written any more."""
        paths = [self.cluster / "base", *(self.cluster / "base").rglob("*"), self.cluster / "pg_wal"]
        before = {path: path.stat().st_mode for path in paths}
        for path in paths:
            path.chmod(0o500 if path.is_dir() else 0o400)

        def back() -> None:
            for path, mode in before.items():
                with suppress(FileNotFoundError):
                    path.chmod(mode & 0o7777)

        return back


def postgres_binaries() -> Path | None:
    """Where the programs of a PostgreSQL are, the newest first."""
    found = sorted(glob("/usr/lib/postgresql/*/bin/initdb"), reverse=True)
    path = found[0] if found else shutil.which("initdb")
    return Path(path).resolve().parent if path else None


def environment(database: Sqlite | Postgres, address: str) -> dict[str, str]:
    """Of every process that works on this database."""
    database.data.mkdir(exist_ok=True)
    own = {"TRAVELLER_DATA": str(database.data), "DATABASE_URL": database.url, "TRAVELLER_ADDRESS": address}
    cleared = {"TRAVELLER_DEMO": "", "TRAVELLER_SERVING": "", "TRAVELLER_DEBUG": ""}
    return {**os.environ, **own, **cleared, "DJANGO_SETTINGS_MODULE": "traveller.settings"}


def inside(environment: dict[str, str], *what: str) -> str:
    """The last line of what a process on the trial's database printed."""
    command = [*as_anybody(), sys.executable, "-m", "tests.trials.outage.inside", *what]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False, timeout=300)
    if done.returncode:
        raise RuntimeError(done.stderr)
    return done.stdout.strip().splitlines()[-1]
