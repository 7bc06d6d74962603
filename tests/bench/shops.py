"""Fifty phones of five shops at once against one small server, calmly, and with the server killed in the middle.

First all tell count by count as a page does, then all send what they kept, ten at a time. Each keeps an id until it
is answered, and sends it again when its line breaks.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from http.client import HTTPException
from statistics import median
from typing import Any
from uuid import uuid4

from django.db import connection

from sites.models import Site
from tests import factory
from tests.bench.figures import Figure, Size, percentile
from tests.bench.recording import NAMES
from tests.bench.server import Phone, Server, cookies_of, running
from tests.globe import everything_agrees
from traveller.batches.models import Batch, Count, Step
from traveller.journal.models import Event, Parked

SHOPS = 5
PHONES: dict[Size, int] = {"tiny": 10, "quick": 50, "full": 50}
TOLD_EACH: dict[Size, int] = {"tiny": 4, "quick": 20, "full": 40}
SERIAL: dict[Size, int] = {"tiny": 10, "quick": 100, "full": 400}
KEPT = 10
PATIENCE_S = 120


@dataclass
class Shop:
    """One site, with batches that its phones count at."""

    site: Site
    steps: list[Step]
    cookies: dict[str, str]


@dataclass
class Heard:
    """What the phones were answered: ids that are stored, how long each answer took, and everything else."""

    stored: list[str] = field(default_factory=list)
    answers_s: list[float] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    broken: int = 0


def measure(size: Size) -> list[Figure]:
    shops = _shops(PHONES[size] // SHOPS)
    figures: list[Figure] = []
    # A small server: one process with SQLite, two with PostgreSQL.
    workers = "1" if connection.vendor == "sqlite" else "2"
    with running("--workers", workers) as server:
        for queued in (False, True):
            for shop in shops:  # what each process and thread reads once
                _tell(Teller(server, shop, 0, queued), 2 * KEPT, Heard())
            teller = Teller(server, shops[0], 0, queued)
            one = _rate(partial(_tell, teller, SERIAL[size], Heard()), SERIAL[size])
            way = "queues of ten" if queued else "pages"
            name = f"{PHONES[size]} phones of {SHOPS} shops, {way}, {NAMES[connection.vendor]}"
            # One power cut shows that it works; each costs a start of the server.
            for kill in (False, True) if queued or size != "tiny" else (False,):
                heard = Heard()
                rate = _together(server, shops, size, heard, queued=queued, kill=kill)
                figures += _figures(f"{name}, killed" if kill else name, heard, rate, one)
    figures.append(_agrees())
    return figures


def _shops(phones_each: int) -> list[Shop]:
    """Five sites that make a part each; two phones count at each batch."""
    made = []
    for number in range(SHOPS):
        site = factory.make_site(f"shop{number}")
        part = factory.make_part(f"PART{number}")
        factory.make_routing(part, [factory.Op(10, site, "press", "make")])
        batches: list[Batch] = [
            factory.make_batch(part, wanted=1_000_000, name=str(n)) for n in range(max(1, phones_each // 2))
        ]
        steps = [Step.objects.get(batch=batch, number=10) for batch in batches]
        made.append(Shop(site, steps, cookies_of(site)))
    return made


@dataclass
class Teller:
    """One phone: its person, its batch, and the line that it keeps open."""

    server: Server
    shop: Shop
    number: int
    queued: bool

    def __post_init__(self) -> None:
        self.phone = Phone(self.server.port, self.shop.cookies)
        self.step = self.shop.steps[self.number % len(self.shop.steps)].pk

    def tell(self, ids: Sequence[str], into: Heard) -> list[str]:
        """Send these once; those that were answered as stored."""
        start = time.perf_counter()
        stored = self._queue(ids, into) if self.queued else self._page(ids[0], into)
        into.answers_s.append(time.perf_counter() - start)
        return stored

    def _page(self, uid: str, into: Heard) -> list[str]:
        form = {"news_id": uid, "good": 1, "stage": "rest", "sure:same_again": "yes"}
        status = self.phone.post(f"/here/step/{self.step}/count", form)
        if status == 302:
            return [uid]
        into.errors.append(f"status {status}")
        return []

    def _queue(self, ids: Sequence[str], into: Heard) -> list[str]:
        now = int(time.time() * 1000)
        path, person = f"/here/step/{self.step}/count", f"P{self.number}"
        # Each phone counts in figures of its own, or the same figure by another person would be asked about.
        fields = [["stage", "rest"], ["good", str(2 + self.number)]]
        entries = [
            {"id": uid, "seq": n, "at": now - 60_000 + n, "path": path, "person": person, "fields": fields}
            for n, uid in enumerate(ids)
        ]
        status, body = self.phone.queue({"site": self.shop.site.pk, "sent_at": now, "entries": entries})
        answers: list[dict[str, Any]] = json.loads(body).get("answers", []) if status == 200 else []
        into.errors += [f"status {status}"] * (status != 200)
        into.errors += [f"{one['state']}: {one['code']}" for one in answers if one["state"] != "stored"]
        return [one["id"] for one in answers if one["state"] == "stored"]


def _tell(teller: Teller, events: int, into: Heard, reported: Callable[[], None] | None = None) -> None:
    """So many counts, each until it is answered."""
    in_one = KEPT if teller.queued else 1
    for first in range(0, events, in_one):
        waiting = [str(uuid4()) for _ in range(min(in_one, events - first))]
        until = time.monotonic() + PATIENCE_S
        while waiting:
            try:
                stored = teller.tell(waiting, into)
            except (OSError, HTTPException):
                # The line broke: whether it was stored, nobody knows. The same ids again.
                into.broken += 1
                teller.phone.hang_up()
                time.sleep(0.2)
                stored = []
            into.stored += stored
            waiting = [uid for uid in waiting if uid not in stored]
            if waiting and time.monotonic() > until:
                into.errors.append(f"{len(waiting)} never answered")
                break
            if reported and stored:
                reported()


def _rate(do: Callable[[], None], events: int) -> float:
    start = time.perf_counter()
    do()
    return events / (time.perf_counter() - start)


def _together(server: Server, shops: Sequence[Shop], size: Size, into: Heard, *, queued: bool, kill: bool) -> float:
    """Every phone at once; the rate over the time that the server was up."""
    each = TOLD_EACH[size]
    tellers = [Teller(server, shops[n % SHOPS], n // SHOPS, queued) for n in range(PHONES[size])]
    down_s = 0.0
    halfway = threading.Event()

    def reported() -> None:
        if len(into.stored) * 2 >= each * len(tellers):
            halfway.set()

    start = time.perf_counter()
    with ThreadPoolExecutor(len(tellers)) as pool:
        running_ones = [pool.submit(_tell, teller, each, into, reported) for teller in tellers]
        if kill:
            halfway.wait(PATIENCE_S)
            died = time.perf_counter()
            server.kill()
            server.start()
            down_s = time.perf_counter() - died
        for one in running_ones:
            one.result()
    return each * len(tellers) / (time.perf_counter() - start - down_s)


def _figures(name: str, heard: Heard, rate: float, one: float) -> list[Figure]:
    ids = heard.stored
    events = Event.objects.filter(uid__in=ids).count()
    counts = Count.objects.filter(event__uid__in=ids).count()
    whole = events == counts == len(ids) == len(set(ids))
    errors = "; ".join(sorted(set(heard.errors))[:3])
    broken = f", {heard.broken} broken lines, each sent again" if heard.broken else ""
    ms = [value * 1000 for value in heard.answers_s] or [float("nan")]
    tail = percentile(ms, 0.99)
    return [
        Figure(f"{name}: errors", len(heard.errors), "at most", 0, "", errors),
        Figure(
            f"{name}: stored once, share",
            events / len(ids) if ids and whole else 0.0,
            "at least",
            1.0,
            notes=f"{len(ids)} answered as stored, {events} events, {counts} counts{broken}",
        ),
        Figure(
            f"{name}: rate, share of one client's",
            rate / one,
            "at least",
            0.8,
            notes=f"{rate:.0f} events a second together, {one:.0f} by one phone",
        ),
        Figure(
            f"{name}: p99, times the median",
            tail / median(ms),
            "at most",
            4.0,
            "x",
            f"median {median(ms):.0f} ms, p99 {tail:.0f} ms, {len(ms)} answers",
        ),
    ]


def _agrees() -> Figure:
    """Everything that is kept follows from the journal, and nothing waits for a decision."""
    waiting = Parked.objects.filter(settled_by=None).count()
    agrees = everything_agrees() and waiting == 0
    return Figure(f"after all these phones, {NAMES[connection.vendor]}: verify agrees", float(agrees), "at least", 1.0)
