"""The trial itself: the worker is away for an hour, then killed in the middle of everything that it does."""

from __future__ import annotations

import os
import signal
import tempfile
import time
from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from functools import partial
from itertools import count
from pathlib import Path
from random import Random
from typing import Any

from traveller.management.trials import Out
from traveller.management.trials.hostile.goals import Goals
from traveller.management.trials.hostile.main import ended_in_order
from traveller.management.trials.worker.files import FILE_KINDS, made
from traveller.management.trials.worker.goals import Found, Kill, judge
from traveller.management.trials.worker.stand import DECODER, Lost, Stand, stand_of, until

VICTIMS = ("lane", "child", "supervisor")
TASKS_KILLED = ("tidy", "read_waiting")
HOUR_S = 3600.0
# Then the trial is given up.
LOST_AFTER_S = 300.0
TRIES_TO_CATCH = 25


def tried(seed: int, *, short: bool, out: Out, only: str = "") -> int:
    """Run it on SQLite, and on PostgreSQL where TEST_DATABASE_URL names a server; 0 when every goal held.

    `only`: the name of one of the two.
    """
    goals = Goals(out)
    server = os.environ.get("TEST_DATABASE_URL", "")
    for name, url in (("SQLite", ""), ("PostgreSQL", server)):
        if only not in ("", name):
            continue
        if name == "PostgreSQL" and not server:
            out("PostgreSQL: not tried, TEST_DATABASE_URL names none.")
            continue
        out(f"{name}, seed {seed}{', short' if short else ''}:")
        with (
            ended_in_order(),
            tempfile.TemporaryDirectory(prefix="traveller-trial-") as place,
            stand_of(Path(place).resolve(), url) as stand,
        ):
            found = _Trial(stand, Random(seed), short, out).run()
        judge(found, goals, short=short)
    out("All goals held." if not goals.missed else f"Missed: {', '.join(goals.missed)}.")
    return goals.code


def kills_planned(rng: Random, *, short: bool) -> list[tuple[str, str]]:
    """What is killed in the middle of what: each of each, or in short each at least once."""
    every = [(what, victim) for what in FILE_KINDS for victim in VICTIMS]
    every += [(task, victim) for task in TASKS_KILLED for victim in VICTIMS if victim != "child"]
    if short:
        return [("log", "child"), ("picture", "lane"), ("pdf", "supervisor"), ("tidy", "lane")]
    rng.shuffle(every)
    return every


class _Trial:
    def __init__(self, stand: Stand, rng: Random, short: bool, out: Out) -> None:
        self.stand, self.rng, self.short, self.out = stand, rng, short, out
        self.found = Found()
        self.cast: dict[str, Any] = {}
        self.usual_s: dict[str, float] = {}
        # Each log is of hours of its own.
        self.days = count(3)

    def run(self) -> Found:
        """All of it; what it could not go on with stands in `lost`."""
        try:
            self.cast = self.stand.do("stage", home=str(self.stand.around.home))
            self.absent()
            for what, victim in kills_planned(self.rng, short=self.short):
                kill = Kill(what, victim)
                (self.kill_file if what in FILE_KINDS else self.kill_task)(kill)
                self.found.kills.append(kill)
                after = f"{kill.after_s:.2f} s into it" if what in FILE_KINDS else "while it ran"
                tries = f"at try {kill.tries}" if what in FILE_KINDS else f"caught at try {kill.tries}"
                late = f"{kill.outcome} {kill.late_s:.1f} s later, {tries}"
                self.out(f"          {what}: {victim} killed {after}; {late}")
            until(lambda: not self.stand.do("open_tasks"), LOST_AFTER_S, "all tasks done")
        except Lost as lost:
            self.found.lost = str(lost)
            log = (self.stand.around.home / "worker.log").read_text(encoding="utf-8", errors="replace")
            self.out(f"          the worker said: {log[-1500:]}")
        self.stand.stop()
        self.found.left = self.stand.left()
        self.found.reported = [self.stand.do("events_of", attachment=one["attachment"]) for one in self.found.sent]
        self.found.open_tasks = self.stand.do("open_tasks")
        self.found.verified = self.stand.verified()
        return self.found

    def send(self, kind: str, shop: str = "rubber", ago_s: float = 0.0) -> dict[str, Any]:
        """A new file of this kind."""
        began = datetime.now(UTC).replace(microsecond=0) - timedelta(days=2 * next(self.days))
        path = self.stand.around.home / "work" / "sent"
        path.write_bytes(made(kind, self.rng, began, short=self.short))
        sent_as, name = FILE_KINDS[kind]
        where = self.cast[shop]
        sent: dict[str, Any] = self.stand.do(
            "send_file", path=str(path), kind=sent_as, name=name, shop=shop, step=where["steps"][0], site=where["site"],
            at=began.isoformat(), ago_s=ago_s,
        )  # fmt: skip
        self.found.sent.append(sent)
        return sent

    def state(self, sent: dict[str, Any]) -> dict[str, Any]:
        found: dict[str, Any] = self.stand.do("look_at_reading", reading=sent["reading"])
        return found

    def is_reported(self, sent: dict[str, Any]) -> bool:
        return bool(self.state(sent)["state"] != "waiting")

    def absent(self) -> None:
        """Nobody works for an hour, as the files' times tell it; then somebody does."""
        shops = ["rubber", "rubber", "rubber", "moulder", "moulder"]
        # The log at the step that asks for one; photos and certificates are taken anywhere.
        kinds = ["log", "picture", "pdf", "picture", "pdf"]
        waiting = [self.send(kind, shop, HOUR_S - n) for n, (kind, shop) in enumerate(zip(kinds, shops, strict=True))]
        cast = {name: self.cast[name] for name in ("rubber", "moulder", "founder")}
        self.found.pages = self.stand.do("pages", **cast, attachment=waiting[0]["attachment"])
        self.found.waited = all(self.state(one)["state"] == "waiting" for one in waiting)
        self.stand.start()
        for one in waiting:
            until(partial(self.is_reported, one), LOST_AFTER_S, f"{one['kind']} read", 0.2)
        taken = sorted(waiting, key=lambda one: str(self.state(one)["taken"]))
        self.found.order = [f"{one['shop']} {waiting.index(one)}" for one in taken]

    def usual(self, kind: str) -> float:
        """How long a child decodes a file of this kind when nobody disturbs it."""
        if kind not in self.usual_s:
            sent = self.send(kind)
            child = until(lambda: self.stand.now(DECODER), LOST_AFTER_S, f"a {kind} is being read")
            began = time.monotonic()
            until(lambda: self.stand.now(DECODER) != child, LOST_AFTER_S, f"a {kind} is read", 0.02)
            self.usual_s[kind] = time.monotonic() - began
            until(lambda: self.state(sent)["state"] != "waiting", LOST_AFTER_S, f"a {kind} is told")
        return self.usual_s[kind]

    def kill_file(self, kill: Kill) -> None:
        """Kill while a file is read: halted first, so that it is known to be in the middle."""
        usual = self.usual(kill.what)
        for _ in range(TRIES_TO_CATCH):
            sent = self.send(kill.what)
            child = until(lambda: self.stand.now(DECODER), LOST_AFTER_S, f"a {kill.what} is being read", 0.01)
            kill.after_s = self.rng.uniform(0.1, 0.7) * usual
            time.sleep(kill.after_s)
            lane = self.state(sent)["by"]
            halted = [number for number in (child, lane) if number]
            _signal(halted, signal.SIGSTOP)
            now = self.state(sent)
            caught = lane and now["by"] == lane and now["state"] == "waiting"
            if caught and self.stand.now(DECODER) == child:
                break
            _signal(halted, signal.SIGCONT)
            until(partial(self.is_reported, sent), LOST_AFTER_S, f"a {kill.what} is read")
        else:
            raise Lost(f"no {kill.what} was caught in the middle")
        self.end(kill, halted, {"child": child, "lane": lane})
        began = time.monotonic()
        until(partial(self.is_reported, sent), LOST_AFTER_S, f"{kill.what} read after the kill")
        kill.late_s = time.monotonic() - began
        now = self.state(sent)
        kill.outcome, kill.tries = f"{now['state']} {now['why']}".strip(), now["tries"]

    def kill_task(self, kill: Kill) -> None:
        """Kill while a task runs that is over in a moment: asked for until it is caught running."""
        for _ in range(TRIES_TO_CATCH):
            kill.tries += 1
            until(lambda: not self.stand.do("open_tasks"), LOST_AFTER_S, "all tasks done")
            task = self.stand.do("ask_for_task", task=kill.what)
            if lane := self.stand.do("catch", task=task):
                break
        else:
            raise Lost(f"{kill.what} was not caught in {kill.tries} tries")
        self.end(kill, [lane], {"lane": lane})
        began = time.monotonic()
        done = ("SUCCESSFUL", "FAILED")
        kill.outcome = until(
            lambda: (status := self.stand.do("status_of", task=task)) in done and status, LOST_AFTER_S, "task done"
        ).lower()
        kill.late_s = time.monotonic() - began

    def end(self, kill: Kill, halted: Sequence[int], numbers: dict[str, int | None]) -> None:
        """The victim is killed, the others go on, and the worker is started again where it was the supervisor."""
        worker = self.stand.worker
        assert worker is not None
        victim = worker.pid if kill.victim == "supervisor" else numbers[kill.victim]
        assert victim is not None
        os.kill(victim, signal.SIGKILL)
        _signal([number for number in halted if number != victim], signal.SIGCONT)
        if kill.victim == "supervisor":
            worker.wait()
            self.stand.start()


def _signal(numbers: Sequence[int], which: signal.Signals) -> None:
    for number in numbers:
        with suppress(ProcessLookupError):
            os.kill(number, which)
