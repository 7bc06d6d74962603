"""What is done to the server, its database, its disk and its line; each fault ends by what it returns."""

from __future__ import annotations

import random
import sqlite3
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import psycopg

from tests.trials.outage.databases import Postgres, Sqlite, limit_files
from tests.trials.outage.line import Cut, Line, Where
from tests.trials.outage.server import Server

KILLS, RESTARTS, CUT_ROUNDS = 20, 5, 5
# On the line of most phones, and on that of the one that lacks something.
CUTS_EACH, CUTS_ONE_PHONE, CUTS_WITHIN_S = 8, 2, 20
PLACES: tuple[Where, ...] = ("before", "asking", "deaf", "answering", "after")
# Longer than the 20 s for which a writer of ours waits.
LOCKED_S = 25.0
# Less than one count writes.
SMALL_BYTES = 16 * 1024


@dataclass(frozen=True)
class Fault:
    """`begin` starts it and returns what ends it; it lasts at least `seconds`; `whole`: the whole phones tell, too."""

    name: str
    begin: Callable[[], Callable[[], object]]
    seconds: float
    whole: bool = True


@dataclass(frozen=True)
class Scene:
    """What there is to be broken."""

    server: Server
    database: Sqlite | Postgres
    lines: Sequence[Line]
    draw: random.Random

    def kill(self) -> Callable[[], object]:
        self.server.kill()
        return self.server.start

    def cut(self) -> Callable[[], object]:
        """The next so many sendings break, wherever; it ends when they have."""
        for line, many in zip(self.lines, (CUTS_EACH, CUTS_ONE_PHONE), strict=True):
            line.cuts.extend(Cut(self.draw.choice(PLACES), self.draw.random()) for _ in range(many))
        return self._all_cut

    def cut_few(self) -> Callable[[], object]:
        self.lines[0].cuts.extend(Cut(where, 0.5) for where in ("asking", "deaf"))
        return self._all_cut

    def _all_cut(self) -> None:
        end = time.monotonic() + CUTS_WITHIN_S
        while any(line.cuts for line in self.lines) and time.monotonic() < end:
            time.sleep(0.05)
        for line in self.lines:
            line.cuts.clear()

    def fill(self) -> Callable[[], object]:
        """The disk is full; where we may not make a small one, no file of the server's may grow."""
        if isinstance(self.database, Sqlite):
            with sqlite3.connect(self.database.file, timeout=20) as beside:
                beside.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            beside.close()
            if not self.database.home.mounted:
                return limit_files(self.server, SMALL_BYTES)
            return self.database.home.fill_up()
        with self.database.admin() as admin:
            admin.execute("CHECKPOINT")
        free = self.database.home.fill_up()
        with suppress(psycopg.Error), self.database.admin() as admin:
            for _ in range(8):
                # What was laid by for the journal of writes is used up, so that the next has to be made.
                admin.execute("SELECT pg_switch_wal()")
                admin.execute("CREATE TEMP TABLE IF NOT EXISTS filled (a text)")
                admin.execute("INSERT INTO filled SELECT repeat('x', 1000) FROM generate_series(1, 2000)")
        return lambda: self._room_again(free)

    def _room_again(self, free: Callable[[], None]) -> None:
        free()
        database = self.database
        assert isinstance(database, Postgres)
        # PostgreSQL stops itself where it cannot write its journal; then somebody has to start it.
        for _ in range(50):
            if database.is_up():
                return
            time.sleep(0.1)
        database.stop()
        database.start()

    def read_only(self) -> Callable[[], object]:
        if isinstance(self.database, Sqlite):
            back = self.database.read_only()
            # What is open already may be written on: those that answer open it anew.
            self.server.kill_workers()
            return back
        tear = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE usename = 'traveller'"
        with self.database.admin() as admin:
            # Once before, so that this session has open all that it needs.
            admin.execute(tear)
            back = self.database.read_only()
            admin.execute(tear)
        return back

    def lock(self) -> Callable[[], object]:
        assert isinstance(self.database, Sqlite)
        return self.database.lock(LOCKED_S + 30)

    def restart(self) -> Callable[[], object]:
        assert isinstance(self.database, Postgres)
        self.database.stop()
        return self.database.start

    def use_up(self) -> Callable[[], object]:
        assert isinstance(self.database, Postgres)
        return self.database.use_up()


def all_of(scene: Scene) -> list[Fault]:
    """Every fault of the full trial on this database, in an order drawn from the seed."""
    draw = scene.draw
    found = [Fault("server killed", scene.kill, draw.uniform(0, 1.0), whole=n % 5 == 0) for n in range(KILLS)]
    found += [Fault("line cut", scene.cut, 6.0) for _ in range(CUT_ROUNDS)]
    found += [Fault("disk full", scene.fill, 6.0), Fault("folder read-only", scene.read_only, 8.0)]
    if isinstance(scene.database, Sqlite):
        found.append(Fault("locked by another program", scene.lock, LOCKED_S))
    else:
        found += [Fault("PostgreSQL restarted", scene.restart, draw.uniform(0.2, 4.0)) for _ in range(RESTARTS)]
        found += [Fault("connections used up", scene.use_up, 6.0) for _ in range(2)]
    draw.shuffle(found)
    return found


def few_of(scene: Scene) -> list[Fault]:
    """The short form: one of each kind that takes no more than seconds."""
    return [
        Fault("line cut", replace(scene, lines=scene.lines[:1]).cut_few, 0.0, whole=False),
        Fault("server killed", scene.kill, 0.1, whole=False),
        Fault("disk full", scene.fill, 0.5, whole=False),
    ]
