"""The trial itself: cost the files, stage the maker, serve, attack, judge."""

from __future__ import annotations

import signal
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

from django.core.management.base import CommandError

from traveller.management.trials import Out
from traveller.management.trials.hostile import cost, fairness
from traveller.management.trials.hostile.caller import NO_ANSWER, NotLetIn, Tally, founder, phone
from traveller.management.trials.hostile.doors import DOORS, Sending, Strangers, meant_for
from traveller.management.trials.hostile.files import Hostile, every_kind, made
from traveller.management.trials.hostile.goals import Goals
from traveller.management.trials.hostile.neighbours import Neighbours, Waits
from traveller.management.trials.hostile.serving import Surroundings, Watch, faults_in, serving, staged

OWN_LEAST = 30
WAIT_MOST_S, TIMES_QUIET = 3.0, 5.0
MEMORY_MOST = 700 * cost.MB
READ_WITHIN_S = 30.0
_AT_ONCE = 6
TOLD_OF_LOG = 3000
_PAGES = ("/", "/orders", "/holds", "/stock", "/quality")


@dataclass(frozen=True, slots=True)
class Size:
    """How much of it: `scale` of the files, hostile logs that wait, their bytes, whether every door is for each file.

    `patience_s`: after that a stranger hangs up. `lost_s`: nobody was answered for so long, and it is given up.
    """

    scale: float
    logs: int
    log_bytes: int
    every_door: bool
    quiet_s: float
    settle_s: float
    patience_s: float
    lost_s: float
    stage: str


FULL = Size(1.0, 100, fairness.BYTES_EACH, True, 15.0, 30.0, 20.0, 60.0, "full")
SHORT = Size(0.01, 12, 40_000, False, 1.0, 2.0, 6.0, 15.0, "short")


@dataclass
class Found:
    """What the trial saw."""

    tally: Tally = field(default_factory=Tally)
    waits: Waits = field(default_factory=Waits)
    fair: fairness.Fairness = field(default_factory=fairness.Fairness)
    sent: Counter[str] = field(default_factory=Counter)
    gave_up: bool = False
    left: list[str] = field(default_factory=list)
    project: list[str] = field(default_factory=list)
    log: str = ""
    watch: Watch | None = None


def tried(seed: int, *, short: bool, out: Out) -> int:
    """Run it and print it; 0 when every goal held. `short`: small files, one or two doors for each, no times judged."""
    size = SHORT if short else FULL
    kinds = every_kind()
    out(f"Hostile files, seed {seed}: {len(kinds)} kinds, {len(DOORS)} doors.")
    goals = Goals(out)
    with ended_in_order(), tempfile.TemporaryDirectory(prefix="traveller-trial-", ignore_cleanup_errors=True) as place:
        home = Path(place).resolve()
        if not short:
            judge_costs(kinds, seed, home, goals)
        found = attacked(kinds, seed, size, home, out)
    judge(found, goals, short=short)
    out("All goals held." if not goals.missed else f"Missed: {', '.join(goals.missed)}.")
    return goals.code


@contextmanager
def ended_in_order() -> Iterator[None]:
    """Who ends the trial by a signal ends the server with it."""

    def stop(number: int, frame: object) -> None:
        raise SystemExit(128 + number)

    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def judge_costs(kinds: Sequence[Hostile], seed: int, home: Path, goals: Goals) -> None:
    """What each file costs a bare decoder, one after the other; those of ours that cost nothing do not count."""
    folder = home / "costs"
    folder.mkdir()
    earlier = cost.earlier_reader(folder)
    goals.out(f"Cost to a bare decoder (logs: {f'the reader of {cost.BEFORE}' if earlier else 'a bare reader'}):")
    own = 0
    for kind in kinds:
        content = made(kind, seed)
        spent = cost.cost_of(kind, content, folder)
        counts = "known" if kind.known else "counts" if spent.why else "-"
        own += counts == "counts"
        seconds = f"{spent.seconds:5.1f}{'+' if spent.stopped else ' '}s"
        figures = f"{len(content) / 1e6:7.3f} MB {seconds} {spent.bytes / 1e6:6.0f} MB"
        goals.out(f"  {kind.name:28} {figures}  {counts:6} {spent.why:27} {spent.fault:24} {kind.words}")
    goals.judge(
        "files of our own that cost 2 s, 300 MB or an exception", str(own), f"at least {OWN_LEAST}", own >= OWN_LEAST
    )


def attacked(kinds: Sequence[Hostile], seed: int, size: Size, home: Path, out: Out) -> Found:
    """Serve the maker's data, attack, stop."""
    around = Surroundings(home)
    cast = staged(around, size.stage)
    found = Found()
    try:
        with serving(around) as watch:
            found.watch = watch
            _attack(kinds, seed, size, around, cast, found, out)
    except NotLetIn as closed:
        tail = (home / "server.log").read_text(encoding="utf-8", errors="replace")[-TOLD_OF_LOG:]
        raise CommandError(f"The trial cannot begin: {closed}. The server's last words:\n{tail}") from closed
    found.left = watch.left()
    watch.written |= around.written()
    found.project = sorted(around.changed_project())
    found.log = (home / "server.log").read_text(encoding="utf-8", errors="replace")
    return found


def _attack(
    kinds: Sequence[Hostile], seed: int, size: Size, around: Surroundings, cast: dict[str, Any], found: Found, out: Out
) -> None:
    port, tally = around.port, found.tally
    strangers = strangers_of(port, tally, cast, size.patience_s)
    shop = cast["neighbour"]
    reporter, honest = (phone(port, tally, shop["token"], shop["person"]) for _ in range(2))
    found.waits.lost_after_s = size.lost_s
    neighbours = Neighbours(found.waits)
    pages = [*_PAGES, *(f"/batches/{code}" for code in cast["batches"][-2:])]
    neighbours.start(reporter, shop["steps"][0], founder(port, tally, cast["founder_links"][0]), pages)
    try:
        quiet_s = neighbours.watch_quiet(size.quiet_s)
        out(f"Quiet for {quiet_s:.0f} s; now {size.logs} hostile logs from two phones, then an honest one.")
        found.waits.phase = "logs"
        logs = fairness.hostile_logs(kinds, seed, size.logs, size.log_bytes)
        steps = (strangers.steps[0], shop["steps"][-1])
        found.fair = fairness.tried(strangers.phones, steps[0], honest, steps[1], logs, Random(seed))
        out("Now every file through the doors.")
        found.waits.phase = "files"
        began = time.monotonic()
        storm(kinds, seed, size, strangers, found)
        out(
            f"Sent {found.sent.total()} files in {time.monotonic() - began:.0f} s; "
            f"looking on for {size.settle_s:.0f} s."
        )
        until = time.monotonic() + size.settle_s
        while time.monotonic() < until and not found.waits.lost:
            time.sleep(0.2)
    finally:
        neighbours.stop()


def strangers_of(port: int, tally: Tally, cast: dict[str, Any], patience_s: float) -> Strangers:
    """Who attacks: they are let in like everybody."""
    shop, bench = cast["attackers"], cast["packer"]
    phones = [phone(port, tally, shop["token"], shop["person"]) for _ in range(2)]
    packer = phone(port, tally, bench["token"], bench["person"])
    second = founder(port, tally, cast["founder_links"][1])
    for caller in (*phones, packer, second):
        caller.patience_s = patience_s
    return Strangers(
        (phones[0], phones[1]), packer, second, tuple(shop["steps"]), shop["batches"][-1], cast["line"], shop["site"],
        (cast["part"][0], cast["part"][1]),
    )  # fmt: skip


def storm(kinds: Sequence[Hostile], seed: int, size: Size, strangers: Strangers, found: Found) -> None:
    """Every file through every door, several at once; given up when the server answers nobody any more."""
    with ThreadPoolExecutor(_AT_ONCE) as pool:
        for turn, kind in enumerate(kinds):
            content = made(kind, seed, size.scale)
            ways = list(DOORS) if size.every_door else doors_of(kind, turn)
            sent = [
                (name, pool.submit(DOORS[name], strangers, Sending(kind, content, turn + number)))
                for number, name in enumerate(ways)
            ]
            for name, answer in sent:
                answer.result()
                found.sent[name] += 1
            if found.waits.lost:
                found.gave_up = True
                return


def doors_of(kind: Hostile, turn: int) -> list[str]:
    """The door that the file is made for; for every third file another one as well, all of them in turn."""
    first = meant_for(kind, turn)
    other = list(DOORS)[turn // 3 % len(DOORS)]
    return [first, other] if turn % 3 == 0 and other != first else [first]


def judge(found: Found, goals: Goals, *, short: bool) -> None:
    """Each figure beside its goal."""
    watch, waits = found.watch, found.waits
    assert watch is not None
    goals.note(
        "answers by status", ", ".join(f"{status or 'none'}: {n}" for status, n in sorted(found.tally.statuses.items()))
    )
    goals.note("files by door", ", ".join(f"{door}: {n}" for door, n in sorted(found.sent.items())))
    goals.judge("the server answered to the end", "no" if found.gave_up else "yes", "yes", not found.gave_up)
    goals.none(
        "answers that were a fault of the server's (5xx)",
        [f"{n} x {what}" for what, n in found.tally.faults.most_common()],
    )
    for line in faults_in(found.log)[:8]:
        goals.out(f"            in the server's log: {line}")
    away = [f"{n} x {what}" for what, n in found.tally.turned_away.most_common()]
    goals.none("files turned away before anybody looked at them", away)
    goals.none("written outside the data folder", sorted(watch.written) + found.project)
    goals.none("processes left after the server was stopped", found.left)
    goals.none("honest people's requests that failed", sorted(set(waits.refused)))
    doors = set(found.sent)
    goals.judge("doors tried", str(len(doors)), str(len(DOORS)), doors == set(DOORS))
    fair = found.fair
    goals.note(
        "hostile logs taken, refused, still waiting when the honest one was read",
        f"{len(fair.sent)}, {fair.refused}, {fair.waiting}",
    )
    if short:
        goals.judge("the honest log was read", f"{fair.read_s:.1f} s", "at all", fair.read_s < fairness.PATIENCE_S)
        return
    goals.judge(
        "the honest log was read", f"{fair.read_s:.1f} s", f"within {READ_WITHIN_S:.0f} s", fair.read_s <= READ_WITHIN_S
    )
    most = watch.most_bytes
    goals.judge(
        "most memory of server, worker and children (PSS)",
        f"{most / 1e6:.0f} MB",
        f"under {MEMORY_MOST / 1e6:.0f} MB",
        most < MEMORY_MOST,
    )
    for size, command in watch.largest:
        goals.out(f"            {size / 1e6:.0f} MB  {command}")
    goals.note("most processes at once", str(watch.most_processes))
    judge_waits(waits, goals)
    unanswered = found.tally.statuses[NO_ANSWER]
    goals.note("requests that a stranger gave up waiting for", str(unanswered))


def judge_waits(waits: Waits, goals: Goals) -> None:
    """Each neighbour's longest wait against the usual one."""
    for what in waits.asked():
        quiet = waits.quiet(what)
        most = max(WAIT_MOST_S, TIMES_QUIET * quiet)
        worst = max(waits.worst(what, phase) for phase in ("logs", "files"))
        times = sum(len(waits.seconds[what, phase]) for phase in ("logs", "files"))
        figure = f"{worst:.2f} s at most of {times}, {quiet:.3f} s when quiet"
        goals.judge(f"{what} answered", figure, f"within {most:.1f} s", worst <= most and times > 0)
