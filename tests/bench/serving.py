"""Counts posted to the real server, by one phone and by sixteen at once."""

from __future__ import annotations

import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from statistics import median
from uuid import uuid4

from django.db import connection

from tests import factory
from tests.bench.figures import Figure, Size, percentile
from tests.bench.recording import NAMES
from tests.bench.server import Phone, cookies_of, serving
from tests.globe import TESTING, Globe, make_globe
from traveller.batches.actions.report import report
from traveller.batches.models import Batch, Count, Step
from traveller.journal.models import Event

CLIENTS, BATCHES = 16, 16
ROUNDS: dict[Size, int] = {"tiny": 1, "quick": 3, "full": 9}
SERIAL: dict[Size, int] = {"tiny": 8, "quick": 48, "full": 96}
EACH: dict[Size, int] = {"tiny": 1, "quick": 6, "full": 12}
PIECES = 50_000


@dataclass
class Sent:
    """What became of the posts: latencies, ids that were acknowledged, anything else."""

    taken: list[str] = field(default_factory=list)
    latencies_s: list[float] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)


def measure(size: Size) -> list[Figure]:
    steps, cookies = _prepared()
    alone, together = Sent(), Sent()
    ratios: list[float] = []
    with serving() as port:
        phones = [Phone(port, cookies) for _ in range(CLIENTS)]
        _post(phones[0], steps[:4], 4, Sent())  # the first fills what is read once per process
        _together(phones, steps, 2, Sent())
        for _ in range(ROUNDS[size]):
            serial = _rate(lambda: _post(phones[0], steps, SERIAL[size], alone), SERIAL[size])
            at_once = _rate(lambda: _together(phones, steps, EACH[size], together), EACH[size] * CLIENTS)
            ratios.append(at_once / serial)
    name = f"{CLIENTS} clients over HTTP, {NAMES[connection.vendor]}"
    return _figures(name, ratios, alone, together)


def _prepared() -> tuple[list[Step], dict[str, str]]:
    """Batches that wait at the bench's every-piece test."""
    globe = make_globe(checks={40: (TESTING,)}, start=PIECES)
    batches = [globe.batch, *(factory.make_batch(globe.part, wanted=PIECES, name=str(n)) for n in range(1, BATCHES))]
    for batch in batches:
        _bring(globe, batch)
    steps = list(Step.objects.filter(batch__in=batches, number=40).order_by("batch"))
    return steps, cookies_of(globe.bench)


def _bring(globe: Globe, batch: Batch) -> None:
    globe.batch = batch
    for number in (20, 30):
        report(event_context=globe.event_context(), step_id=globe.step(number).pk, good=PIECES, done=True)
    globe.moved(PIECES)


def _rate(do: object, posts: int) -> float:
    start = time.perf_counter()
    assert callable(do)
    do()
    return posts / (time.perf_counter() - start)


def _together(phones: Sequence[Phone], steps: Sequence[Step], each: int, into: Sent) -> None:
    """Every phone posts at its own batch: sixteen people at sixteen benches."""
    with ThreadPoolExecutor(len(phones)) as pool:
        for done in [pool.submit(_post, phone, [steps[n % len(steps)]], each, into) for n, phone in enumerate(phones)]:
            done.result()


def _post(phone: Phone, steps: Sequence[Step], posts: int, into: Sent) -> None:
    for number in range(posts):
        uid = str(uuid4())
        form = {"news_id": uid, "good": 1, "stage": "rest", "sure:same_again": "yes"}
        start = time.perf_counter()
        try:
            status = phone.post(f"/here/step/{steps[number % len(steps)].pk}/count", form)
        except OSError as error:
            into.errors.append(repr(error))
            continue
        into.latencies_s.append(time.perf_counter() - start)
        if status == 302:
            into.taken.append(uid)
        else:
            into.errors.append(f"status {status}")


def _figures(name: str, ratios: Sequence[float], alone: Sent, together: Sent) -> list[Figure]:
    taken = [*alone.taken, *together.taken]
    errors = [*alone.errors, *together.errors]
    stored = {str(uid) for uid in Event.objects.filter(uid__in=taken).values_list("uid", flat=True)}
    once = Count.objects.filter(event__uid__in=taken).count()
    ms = [value * 1000 for value in together.latencies_s] or [float("nan")]
    calm = median(ms)
    tail = percentile(ms, 0.99)
    serial_ms = median(alone.latencies_s or [float("nan")]) * 1000
    return [
        Figure(
            f"{name}: posts answered with an error", len(errors), "at most", 0, "", "; ".join(sorted(set(errors))[:3])
        ),
        Figure(
            f"{name}: acknowledged counts stored once",
            len(stored) / len(taken) if taken and once == len(taken) else 0.0,
            "at least",
            1.0,
            notes=f"{len(taken)} acknowledged, {len(stored)} events, {once} counts",
        ),
        Figure(
            f"{name}: rate, share of one client's",
            median(ratios),
            "at least",
            0.8,
            notes=f"one client: median {serial_ms:.1f} ms; {len(together.latencies_s)} posts by {CLIENTS} clients",
        ),
        Figure(
            f"{name}: p99, times the median",
            tail / calm,
            "at most",
            4.0,
            "x",
            f"median {calm:.0f} ms, p99 {tail:.0f} ms",
        ),
    ]
