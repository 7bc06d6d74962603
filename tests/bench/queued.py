"""A shift of 500 events that waited on a phone, sent to the real server in batches, against the action alone."""

from __future__ import annotations

import json
import time
from statistics import median
from typing import Any
from uuid import uuid4

from django.db import connection

from tests import factory
from tests.bench.figures import Figure, Size
from tests.bench.recording import NAMES
from tests.bench.server import Phone, cookies_of, serving
from tests.globe import TESTING, Globe, make_globe, ok
from traveller.batches.actions.report import report
from traveller.batches.models import Count, Step
from traveller.journal.models import Event

SHIFT: dict[Size, int] = {"tiny": 6, "quick": 100, "full": 500}
ROUNDS: dict[Size, int] = {"tiny": 1, "quick": 3, "full": 5}
WARMING: dict[Size, int] = {"tiny": 1, "quick": 24, "full": 24}
IN_ONE = 50
PIECES = 100_000


def measure(size: Size) -> list[Figure]:
    globe = make_globe(checks={40: (TESTING,)}, start=PIECES)
    globe.report(20, PIECES, done=True)
    globe.report(30, PIECES, done=True)
    globe.moved(PIECES)
    step = globe.step(40)
    cookies = cookies_of(globe.bench)
    ratios, sent_s, reported_s = [], [], []
    taken: list[str] = []
    with serving() as port:
        phone = Phone(port, cookies)
        for _ in range(WARMING[size]):  # what each thread reads once, and each of its connections plans once
            taken += _send(phone, globe, step, 2)
        for _ in range(ROUNDS[size]):
            sent = time.perf_counter()
            taken += _send(phone, globe, step, SHIFT[size])
            sent_s.append(time.perf_counter() - sent)
            reported_s.append(_tell(globe, step, SHIFT[size]))
            ratios.append(reported_s[-1] / sent_s[-1])
    stored = Event.objects.filter(uid__in=taken).count()
    once = Count.objects.filter(event__uid__in=taken).count()
    name = f"{SHIFT[size]} queued events in batches of {IN_ONE}, {NAMES[connection.vendor]}"
    return [
        Figure(
            f"{name}: stored once",
            stored / len(taken) if once == stored else 0.0,
            "at least",
            1.0,
            notes=f"{len(taken)} answered as stored, {stored} events, {once} counts",
        ),
        Figure(
            f"{name}: rate, share of the action's",
            median(ratios),
            "at least",
            0.5,
            notes=f"{median(sent_s) / SHIFT[size] * 1000:.2f} ms an event over HTTP, "
            f"{median(reported_s) / SHIFT[size] * 1000:.2f} ms by the action in process",
        ),
    ]


def _send(phone: Phone, globe: Globe, step: Step, events: int) -> list[str]:
    """A shift's counts, batch after batch; the ids that were answered as stored."""
    now = int(time.time() * 1000)
    path = f"/here/step/{step.pk}/count"
    fields = [["stage", "rest"], ["good", "1"]]
    shift: list[dict[str, Any]] = [
        {
            "id": str(uuid4()),
            "seq": n,
            "at": now - (events - n) * 1000,
            "path": path,
            "person": "Ines",
            "fields": fields,
        }
        for n in range(events)
    ]
    taken = []
    for first in range(0, events, IN_ONE):
        envelope = {"site": globe.bench.pk, "sent_at": now, "entries": shift[first : first + IN_ONE]}
        status, body = phone.queue(envelope)
        assert status == 200, (status, body)
        taken += [answer["id"] for answer in json.loads(body)["answers"] if answer["state"] == "stored"]
    assert len(taken) == events
    return taken


def _tell(globe: Globe, step: Step, events: int) -> float:
    """Seconds for as many by the action alone, in this process: another figure, or both would seem one count."""
    event_contexts = [globe.event_context(factory.MONDAY) for _ in range(events)]
    start = time.perf_counter()
    for event_context in event_contexts:
        ok(report(event_context=event_context, step_id=step.pk, good=2))
    return time.perf_counter() - start
