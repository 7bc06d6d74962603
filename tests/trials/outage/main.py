"""`manage.py trial outage`: the rounds of one database after the other, and what they are judged by."""

from __future__ import annotations

import http.client
import json
import random
import threading
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

from tests.browser.test_outage import OLDER
from tests.conftest import CHROMIUM, NO_CHROMIUM
from tests.trials.outage.databases import Postgres, Sqlite, environment, home, inside, postgres_binaries
from tests.trials.outage.faults import Fault, Scene, all_of, few_of
from tests.trials.outage.line import HOST, Line
from tests.trials.outage.phones import Phone, WholePhone, phones
from tests.trials.outage.server import Server
from traveller.management.ports import unused

Out = Callable[[str], None]
SENDERS, EACH = 10, 50
SHORT_SENDERS, SHORT_EACH = 3, 8
RESUMED_WITHIN_S = 60.0
AGREES = "Everything agrees."
# Given up after so long; the goal is missed long before.
GIVEN_UP_S = 240.0


@dataclass
class Found:
    """What came of one database's rounds."""

    # By fault and kind of phone: how long after its end the last of the news was gone.
    after: dict[tuple[str, str], list[float]] = field(default_factory=lambda: defaultdict(list))
    late: list[str] = field(default_factory=list)
    # By fault: how often anybody met it. One that nobody met has shown nothing.
    felt: dict[str, int] = field(default_factory=lambda: defaultdict(int))


@contextmanager
def reader(line: Line, cookie: str) -> Iterator[None]:
    """Somebody looks at pages all the while: none of them may be a 500 either."""
    done = threading.Event()
    parts = urlsplit(line.address)

    def look() -> None:
        while not done.wait(1.0):
            for path in ("/here/", "/here/send", "/sign-in", "/"):
                asked = http.client.HTTPConnection(HOST, parts.port or 80, timeout=60)
                with suppress(OSError, http.client.HTTPException):
                    asked.request("GET", path, headers={"Cookie": cookie})
                    asked.getresponse().read()
                asked.close()

    thread = threading.Thread(target=look, daemon=True)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join(timeout=70)


def kind_of(phone: Phone) -> str:
    return phone.name if isinstance(phone, WholePhone) else "senders"


def one_round(
    scene: Scene, fault: Fault, taps: dict[str, list[int]], all_phones: Sequence[Phone], found: Found
) -> float:
    """Tap, break, tap on, mend, and wait until everything is sent: how long after the end that was."""
    alone = [phone for phone in all_phones if not isinstance(phone, WholePhone)]
    whole = [phone for phone in all_phones if isinstance(phone, WholePhone)] if fault.whole else []
    before = felt(scene)
    for phone in alone:
        phone.tap(taps[phone.name][:1])
    time.sleep(scene.draw.uniform(0, 0.4))
    began = time.time()
    mend = fault.begin()
    for phone in alone:
        phone.tap(taps[phone.name][1:])
    for phone in whole:
        phone.tap(taps[phone.name])
    time.sleep(max(0.0, fault.seconds - (time.time() - began)))
    mend()
    scene.server.wait(well=True)
    back = time.time()
    waiting = [*alone, *whole]
    while waiting and time.time() - back < GIVEN_UP_S:
        waiting = [phone for phone in waiting if phone.left()]
        time.sleep(0.2)
    late = [GIVEN_UP_S if phone in waiting else max(0.0, phone.empty_at() - back) for phone in (*alone, *whole)]
    for phone, seconds in zip((*alone, *whole), late, strict=True):
        found.after[fault.name, kind_of(phone)].append(seconds)
        if seconds > RESUMED_WITHIN_S:
            found.late.append(f"{fault.name}: {phone.name} after {seconds:.0f} s")
    found.felt[fault.name] += felt(scene) - before
    return max(late)


def felt(scene: Scene) -> int:
    """How often a fault was felt so far: lines cut, nobody there, answers of 503, and of "later" to an entry."""
    lines = sum(line.statuses[503] + line.cut_so_far + line.nobody for line in scene.lines)
    return lines + scene.server.log.read_text("utf-8", "replace").count("of a phone's queue: ")


def taps_of(all_phones: Sequence[Phone], faults: Sequence[Fault], each: int) -> list[dict[str, list[int]]]:
    """Which counts are told in which round: each phone's share, no figure twice."""
    rounds: list[dict[str, list[int]]] = [{} for _ in faults]
    for place, phone in enumerate(all_phones):
        good = 1 + place * 100
        for number, _fault in enumerate(faults):
            many = 1 if isinstance(phone, WholePhone) else each // len(faults) + (number < each % len(faults))
            rounds[number][phone.name] = list(range(good, good + many))
            good += many
    return rounds


def tried(database: Sqlite | Postgres, seed: int, out: Out, *, short: bool) -> bool:
    """All rounds on one database; did every goal hold?"""
    senders, each = (SHORT_SENDERS, SHORT_EACH) if short else (SENDERS, EACH)
    port = unused()
    given = environment(database, f"http://{HOST}:{port}")
    made: dict[str, Any] = json.loads(inside(given, "fill", str(senders + 3)))
    cookie = "; ".join(f"{name}={value}" for name, value in made["cookies"][0].items())
    server = Server(port, given, database.home.folder / "server.log", workers=1 if short else 2, cookie=cookie)
    lines = [Line(port).start(), Line(port, OLDER).start()]
    scene = Scene(server, database, lines, random.Random(seed))
    found = Found()
    began = time.monotonic()
    try:
        server.start()
        with phones(lines, made, senders, whole=not short) as all_phones, reader(lines[0], cookie):
            faults = few_of(scene) if short else all_of(scene)
            for number, (fault, taps) in enumerate(zip(faults, taps_of(all_phones, faults, each), strict=True), 1):
                late = len(found.late)
                slowest = one_round(scene, fault, taps, all_phones, found)
                out(f"  {number:2} of {len(faults)}: {fault.name}; all sent {slowest:.1f} s after its end")
                for words in found.late[late:]:
                    out(f"     late: {words}")
            left = [(phone.name, phone.refused()) for phone in all_phones if phone.refused() or phone.left()]
            reported = {phone.person: list(phone.goods) for phone in all_phones}
    finally:
        server.stop()
        for line in lines:
            line.close()
    stands = json.loads(inside(given, "judge"))
    statuses = sum((line.statuses for line in lines), Counter[int]())
    out(f"  answers: {', '.join(f'{n} of {status}' for status, n in sorted(statuses.items()))}")
    out(f"  lines cut {sum(line.cut_so_far for line in lines)} times; {time.monotonic() - began:.0f} s in all")
    for one in left[:5]:
        out(f"  left: {one}")
    return tell(goals(stands, reported, len(left), statuses[500], found, short=short), out)


Row = tuple[str, object, object, bool]


def goals(
    stands: Mapping[str, Any], reported: Mapping[str, list[int]], left: int, faults: int, found: Found, *, short: bool
) -> list[Row]:
    """Each figure, its goal, and whether that held: `stands` is in the journal, `reported` what was tapped."""
    by_phone: dict[str, list[int]] = defaultdict(list)
    for person, good in stands["told"]:
        by_phone[person].append(good)
    wanted = sorted((person, good) for person, goods in reported.items() for good in goods)
    once = sorted((person, good) for person, good in stands["told"]) == wanted and stands["events"] == len(wanted)
    turned = sum(by_phone[person] != goods for person, goods in reported.items())
    rows: list[Row] = [
        ("told by the phones, in the journal once each", f"{stands['events']} of {len(wanted)}", "all", once),
        ("phones whose news is not in their own order", turned, 0, turned == 0),
        ("left on a phone, or not taken", left, 0, left == 0),
        ("set aside for the founder", stands["parked"], 0, stands["parked"] == 0),
        ("answers of 500", faults, 0, faults == 0),
        ("verify", stands["verify"], AGREES, stands["verify"] == AGREES),
    ]
    rows += [(f"{fault}: met by phones and readers", n, ">= 1", n >= 1) for fault, n in found.felt.items()]
    for (fault, kind), times in sorted(found.after.items()):
        title = f"{fault}, {kind}: all sent after its end ({len(times)} times)"
        held = max(times) <= (GIVEN_UP_S / 2 if short else RESUMED_WITHIN_S)
        rows.append((title, f"{max(times):.1f} s", "told only" if short else f"<= {RESUMED_WITHIN_S:.0f} s", held))
    return rows


def tell(rows: Sequence[Row], out: Out) -> bool:
    """The table; did everything hold?"""
    for title, value, goal, held in rows:
        out(f"  {title:<72} {value!s:>20} {goal!s:>20}  {'held' if held else 'MISSED'}")
    return all(held for *_rest, held in rows)


def run(seed: int, *, short: bool, out: Out) -> int:
    """The trial on SQLite and, in its full form, on PostgreSQL; 0 when every goal held."""
    out(f"seed {seed}")
    if CHROMIUM is None:
        out(f"NOT RUN: {NO_CHROMIUM}")
        return 1
    out("SQLite")
    with home("SQLite", small=not short) as folder:
        if not short:
            out("  its disk: " + ("60 MB, a file system of its own" if folder.mounted else "files may not grow"))
        held = tried(Sqlite(folder), seed, out, short=short)
    if short:
        return 0 if held else 1
    binaries = postgres_binaries()
    if binaries is None:
        out("NOT RUN: PostgreSQL, because none is installed here")
        return 1
    out("PostgreSQL")
    with home("PostgreSQL", small=True) as folder:
        if not folder.mounted:
            out("  NOT RUN: a full disk, because only root may make a small one")
        postgres = Postgres(folder, binaries)
        postgres.make()
        try:
            held &= tried(postgres, seed, out, short=short)
        finally:
            postgres.stop()
    return 0 if held else 1
