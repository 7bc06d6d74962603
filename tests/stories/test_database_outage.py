"""A real PostgreSQL goes away under the running server, fills up with connections, and comes back."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import quote

import psycopg
import pytest
from django.db import connection
from psycopg import sql

from tests.bench.server import Phone, Server, cookies_of, running
from tests.globe import everything_agrees
from tests.web.operator.floor import Floor, make_floor
from tests.web.queueing import Phone as Taps
from traveller.journal.models import Event

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]
ROLE, PASSWORD = "traveller_outage", "only for this test"


@dataclass
class Away:
    """Switches of the database that the server knows nothing of."""

    name: str
    beside: psycopg.Connection[Any]

    def _do(self, statement: str, *names: str) -> None:
        self.beside.execute(sql.SQL(statement).format(*map(sql.Identifier, names)))

    def cut(self) -> None:
        """Every connection of the server is torn."""
        self.beside.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE usename = %s AND pid <> pg_backend_pid()",
            [ROLE],
        )

    def shut(self) -> None:
        """Nobody is let in any more."""
        self._do("ALTER DATABASE {} ALLOW_CONNECTIONS false", self.name)
        self.cut()

    def open(self) -> None:
        self._do("ALTER DATABASE {} ALLOW_CONNECTIONS true", self.name)

    def use_up(self) -> None:
        """The server's role may have no connection more."""
        self._do("ALTER ROLE {} CONNECTION LIMIT 0", ROLE)
        self.cut()

    def give_back(self) -> None:
        self._do("ALTER ROLE {} CONNECTION LIMIT -1", ROLE)


@pytest.fixture
def floor() -> Floor:
    return make_floor(start=100_000)


@pytest.fixture
def away(floor: Floor) -> Iterator[Away]:
    of = connection.settings_dict
    asked = {"host": of["HOST"], "port": of["PORT"], "user": of["USER"], "password": of["PASSWORD"] or None}
    name = str(of["NAME"])
    with psycopg.connect(dbname="postgres", autocommit=True, **asked) as beside:
        beside.execute(f"CREATE ROLE {ROLE} LOGIN PASSWORD '{PASSWORD}'")
        with psycopg.connect(dbname=name, autocommit=True, **asked) as inside:
            for what in ("TABLES", "SEQUENCES"):
                inside.execute(f"GRANT ALL ON ALL {what} IN SCHEMA public TO {ROLE}")
        made = Away(name, beside)
        yield made
        made.open()
        made.cut()
        with psycopg.connect(dbname=name, autocommit=True, **asked) as inside:
            inside.execute(f"DROP OWNED BY {ROLE}")
        beside.execute(f"DROP ROLE {ROLE}")


@pytest.fixture
def server(away: Away) -> Iterator[Server]:
    of = connection.settings_dict
    url = f"postgres://{ROLE}:{quote(PASSWORD)}@{of['HOST']}:{of['PORT']}/{quote(str(of['NAME']))}"
    with running("--workers", "1", database_url=url) as started:
        yield started


def test_the_server_says_so_and_goes_on_by_itself_when_the_database_is_back(
    floor: Floor, away: Away, server: Server
) -> None:
    phone = Phone(server.port, cookies_of(floor.moulder))
    taps = Taps(floor.phone, floor.moulder)
    since = datetime.now(UTC) - timedelta(hours=1)
    for number in range(12):
        at = since + timedelta(seconds=number)
        taps.tap(floor.path(20, "count"), at, stage="rest", good=number + 1, shots=1)

    def send(first: int, last: int) -> tuple[int, Any]:
        status, answer = phone.queue(taps.envelope(taps.kept[first:last], datetime.now(UTC)))
        return status, json.loads(answer)

    def reported(first: int, last: int) -> None:
        status, said = send(first, last)
        assert status == 200 and {one["state"] for one in said["answers"]} == {"stored"}, (status, said)

    reported(0, 3)
    # Torn while nobody asks: the next to ask notices nothing.
    away.cut()
    reported(3, 5)
    for number, (goes, comes) in enumerate(((away.shut, away.open), (away.use_up, away.give_back))):
        goes()
        for _ in range(3):
            status, said = send(5, 12)
            assert status == 503 and said["error"] == "database_away" and said["words"], said
            status, headers, text = phone.get("/here/", Accept="text/html")
            assert status == 503 and headers["retry-after"] == "5" and b"reached just now" in text
            assert phone.post("/pass", {"code": "ABC"}) == 503
        comes()
        back = time.monotonic()
        reported(5 + 3 * number, 8 + 3 * number)
        assert phone.get("/here/")[0] in (200, 302)
        assert time.monotonic() - back < 5
    reported(0, 12)
    phone.hang_up()
    stored = [str(event.uid) for event in Event.objects.filter(kind="counted").order_by("id")]
    assert stored == [entry["id"] for entry in taps.kept]
    assert everything_agrees()
