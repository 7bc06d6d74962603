"""One owner of a database.

A SQLite file has one server: a lock on a file beside it says so as long as that server lives, and another, shared by
all processes of one release, that nobody of another release works on it. A PostgreSQL database may have many servers,
all of one release: each keeps a session open with a lock that carries its release.
Both are the kernel's or the database's own locks, so that a killed process holds nothing.
"""

from __future__ import annotations

import os
import signal
import socket
import sys
import threading
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from time import sleep
from typing import Any

from django.core.management.base import CommandError
from django.db import Error, connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from traveller.management import locks
from traveller.management.release import release_name

# The first of the two numbers of our advisory locks; the second is the release, or 0 for "wait your turn".
LOCK_CLASS = 0x54524156
LOOK_S = 5.0
# A machine that lost its power tells nobody: the database asks it after 30 s, thrice, and then lets its locks go.
SESSION = (
    "tcp_keepalives_idle = 30",
    "tcp_keepalives_interval = 10",
    "tcp_keepalives_count = 3",
    "lock_timeout = '10s'",
)

_sessions: list[Session] = []


def own(what: str) -> None:
    """Be the server of this database until the process ends, or refuse in words. `what` names it to others.

    Does nothing when this process is that already.
    """
    if connection.vendor == "sqlite":
        _own_file(_file(), what)
    beside(what)


def beside(what: str) -> None:
    """Work on this database beside its server until the process ends: only as the same release of the program."""
    if connection.vendor == "sqlite":
        _one_release(_file(), what)
        return
    if _sessions:
        return
    session = Session(release_name(), what)
    session.open()
    _sessions.append(session)
    threading.Thread(target=session.keep, name="release-lock", daemon=True).start()


def whoami(what: str) -> str:
    """One line that lets somebody find this process."""
    return f"{what}, process {os.getpid()} on {socket.gethostname()}, since {datetime.now(UTC):%Y-%m-%d %H:%M} UTC"


def _file() -> Path:
    return Path(str(connection.settings_dict["NAME"])).resolve()


def _one_release(database: Path, what: str) -> None:
    try:
        locks.share(database.with_name(f"{database.name}.release"), release_name(), whoami(what))
    except locks.Taken as taken:
        raise CommandError(_another_release([taken.who or "unknown"])) from None


def _own_file(database: Path, what: str) -> None:
    file = database.with_name(f"{database.name}.owner")
    try:
        locks.hold_lock(file, whoami(what))
    except locks.Taken as taken:
        raise CommandError(
            f"{database} is in use by another server of this program ({taken.who or 'unknown'}), and a SQLite "
            "file can have one only. Stop that one first; or set TRAVELLER_DATA to another folder for this one."
        ) from None


@dataclass
class Session:
    """The session at PostgreSQL that holds a release's lock; its end, however it comes, is the lock's end."""

    release: str
    what: str
    wrapper: BaseDatabaseWrapper | None = None

    def open(self) -> None:
        """Take the lock, or raise `CommandError` while another release holds one."""
        wrapper: BaseDatabaseWrapper = connections.create_connection("default")
        wrapper.inc_thread_sharing()  # opened here, kept by a thread
        own = int(self.release, 16) & 0x7FFFFFFF or 1
        try:
            with wrapper.cursor() as cursor:
                for setting in SESSION:
                    cursor.execute(f"SET {setting}")
                cursor.execute("SELECT set_config('application_name', %s, false)", [self._name()])
                # One after another: of two releases that start at the same moment the second must see the first.
                cursor.execute("SELECT pg_advisory_lock(%s, 0)", [LOCK_CLASS])
                others = _other_releases(cursor, own)
                if others:
                    raise CommandError(_another_release(others))
                cursor.execute("SELECT pg_advisory_lock_shared(%s, %s)", [LOCK_CLASS, own])
                cursor.execute("SELECT pg_advisory_unlock(%s, 0)", [LOCK_CLASS])
        except BaseException:
            wrapper.close()
            raise
        self.wrapper = wrapper

    def keep(self) -> None:
        """Hold on to the lock; when the database was away, take it again, and stop the server if that fails."""
        while True:
            sleep(LOOK_S)
            try:
                self.renew()
            except CommandError as refused:
                sys.stderr.write(f"{refused}\nThis server stops.\n")
                sys.stderr.flush()
                os.kill(os.getpid(), signal.SIGTERM)
                return

    def renew(self) -> None:
        """Is the session still there? If not, open another; a database that is away is tried again next time."""
        try:
            if self.wrapper is None:
                self.open()
                return
            with self.wrapper.cursor() as cursor:
                cursor.execute("SELECT 1")
        except Error:
            self.close()

    def close(self) -> None:
        """Let the lock go."""
        if self.wrapper is not None:
            self.wrapper.close()
            self.wrapper = None

    def forget(self) -> None:
        """In a forked child: close this end without a word to the database, whose session is the parent's."""
        if self.wrapper is not None and self.wrapper.connection is not None:
            os.close(self.wrapper.connection.fileno())

    def _name(self) -> str:
        # PostgreSQL keeps 63 characters.
        return f"traveller {self.release}: {self.what}, process {os.getpid()} on {socket.gethostname()}"[:63]


def _other_releases(cursor: Any, own: int) -> list[str]:
    """Who holds the lock of another release here, as each named itself."""
    cursor.execute(
        "SELECT DISTINCT coalesce(nullif(application_name, ''), 'server process ' || l.pid) "
        "FROM pg_locks l LEFT JOIN pg_stat_activity a ON a.pid = l.pid "
        "WHERE l.locktype = 'advisory' AND l.granted AND l.classid = %s AND l.objsubid = 2 AND l.objid NOT IN (0, %s) "
        "AND l.database = (SELECT oid FROM pg_database WHERE datname = current_database()) ORDER BY 1",
        [LOCK_CLASS, own],
    )
    return [row[0] for row in cursor.fetchall()]


def _another_release(others: list[str]) -> str:
    return (
        f"Another release of this program runs on this database: {'; '.join(others)}. Two releases at once could "
        "read each other's records wrongly. Stop the other one everywhere, then start this one (this is "
        f"{release_name()}). On PostgreSQL a machine that was switched off counts as running for one more minute."
    )


def _forked() -> None:
    for session in _sessions:
        session.forget()
    _sessions.clear()


os.register_at_fork(after_in_child=_forked)
