"""The line breaks at every point of sending and of reading the answer; the phone sends again until it is answered.

Against the server as it is run for real: what counts is what stands in the journal afterwards.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import quote

import pytest
from django.db import connection

from tests.bench.server import Server, cookies_of, running
from tests.globe import everything_agrees
from tests.stories.cutting import Cut, Line
from tests.web.operator.floor import Floor, make_floor
from tests.web.queueing import Phone
from traveller.batches.models import Count
from traveller.journal.models import Event, Parked

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.both]

CUTS = [
    Cut(0),
    Cut(0, reset=False),
    Cut(0.02),
    Cut(0.2),
    Cut(0.45),
    Cut(0.7),
    Cut(0.999),
    Cut(0.999, reset=False),
    Cut(1),
    Cut(1, reset=False),
    Cut(1, 0.005),
    Cut(1, 0.4),
    Cut(1, 0.999),
    Cut(1, 0.999, reset=False),
]
EACH = 3


def database_url() -> str:
    """The database of this test, for the server's own processes."""
    of = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{quote(str(of['NAME']))}"
    user = quote(str(of["USER"])) + (f":{quote(str(of['PASSWORD']))}" if of["PASSWORD"] else "")
    return f"postgres://{user}@{of['HOST']}:{of['PORT']}/{of['NAME']}"


@pytest.fixture
def floor() -> Floor:
    return make_floor(start=100_000)


@pytest.fixture
def server(floor: Floor) -> Iterator[Server]:
    with running("--workers", "2", database_url=database_url()) as started:
        yield started


def taps(phone: Phone, floor: Floor, good: list[int], since: datetime) -> list[dict[str, Any]]:
    path = floor.path(20, "count")
    return [
        phone.tap(path, since + timedelta(seconds=len(phone.kept)), stage="rest", good=number, shots=1)
        for number in good
    ]


def test_wherever_the_line_breaks_every_event_is_stored_once_and_in_order(floor: Floor, server: Server) -> None:
    line = Line(server.port, cookies_of(floor.moulder))
    phone = Phone(floor.phone, floor.moulder)
    since = datetime.now(UTC) - timedelta(hours=1)
    for number, cut in enumerate(CUTS):
        entries = taps(phone, floor, [100 * number + n for n in range(1, EACH + 1)], since)
        envelope = phone.envelope(entries, datetime.now(UTC))
        line.broken(envelope, cut)
        # While the server may still be at work on what it got, the phone sends it again.
        status, said = line.answered(envelope)
        assert status == 200, (cut, said)
        assert [one["state"] for one in said["answers"]] == ["stored"] * EACH, (cut, said)
    reported = list(Event.objects.filter(kind="counted").order_by("id"))
    assert [str(event.uid) for event in reported] == [entry["id"] for entry in phone.kept]
    assert [event.happened_at for event in reported] == sorted(event.happened_at for event in reported)
    assert Count.objects.count() == len(CUTS) * EACH and not Parked.objects.exists()
    assert floor.step(20).good == sum(100 * n * EACH + 6 for n in range(len(CUTS)))
    assert everything_agrees()


def test_a_server_that_dies_in_the_middle_has_lost_nothing_that_it_answered(floor: Floor, server: Server) -> None:
    """Five phones send at once, the server is killed, started again, and each sends again what was not answered."""
    line = Line(server.port, cookies_of(floor.moulder))
    since = datetime.now(UTC) - timedelta(hours=1)
    phones = [Phone(floor.phone, floor.moulder, person=f"P{n}", name=f"phone {n}") for n in range(5)]
    shifts = [taps(phone, floor, [1000 * (n + 1) + k for k in range(20)], since) for n, phone in enumerate(phones)]
    answered: set[str] = set()
    killed = threading.Event()

    def send(number: int) -> None:
        for first in range(0, 20, 5):
            part = shifts[number][first : first + 5]
            try:
                status, said = line.answered(phones[number].envelope(part, datetime.now(UTC)))
            except (OSError, ValueError, IndexError):
                return
            assert status == 200
            answered.update(one["id"] for one in said["answers"] if one["state"] == "stored")
            if len(answered) > 15 and not killed.is_set():
                killed.set()
                server.kill()
                return

    with ThreadPoolExecutor(5) as pool:
        list(pool.map(send, range(5)))
    server.start()
    stored = {str(uid) for uid in Event.objects.filter(kind="counted").values_list("uid", flat=True)}
    assert answered and answered <= stored
    for phone, shift in zip(phones, shifts, strict=True):
        status, said = line.answered(phone.envelope(shift, datetime.now(UTC)))
        assert status == 200 and {one["state"] for one in said["answers"]} == {"stored"}
    for shift in shifts:
        reported = Event.objects.filter(uid__in=[entry["id"] for entry in shift]).order_by("id")
        assert [str(event.uid) for event in reported] == [entry["id"] for entry in shift]
    assert Count.objects.count() == 100 and not Parked.objects.exists()
    assert everything_agrees()
