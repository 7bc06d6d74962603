"""A phone hears what became of its entries that waited for review; no other phone does."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from tests import cast
from tests.web.operator.floor import Floor, moved
from tests.web.queueing import Phone
from traveller.batches.models import Load
from traveller.journal.models import Event

pytestmark = pytest.mark.django_db


@pytest.fixture
def clash(floor: Floor) -> tuple[Client, dict[str, Any]]:
    """A phone whose count of seven waits for review, since another phone recorded seven."""
    moved(floor.count(20, 7, shots=4))
    client = cast.pass_client(floor.moulder, person="Bela")
    client.get("/here/")
    phone = Phone(client, floor.moulder, "Bela")
    entry = phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=7, shots=4)
    assert phone.send(floor.clock.now)[0]["state"] == "parked"
    return client, entry


def decide(**typed: str) -> None:
    for_review = Event.objects.get(kind="set aside")
    path = f"/phone-entries/{for_review.pk}"
    assert cast.founder_client().post(path, {"news_id": str(uuid4()), **typed}).status_code == 302


def heard(client: Client) -> Any:
    return client.get("/here/keep").json().get("decided", [])


def test_while_nobody_has_decided_there_is_nothing_to_say(clash: tuple[Client, dict[str, Any]]) -> None:
    assert heard(clash[0]) == []


def test_what_was_left_comes_with_its_reason(floor: Floor, clash: tuple[Client, dict[str, Any]]) -> None:
    client, entry = clash
    version = client.get("/here/keep")["ETag"]
    decide(deed="leave", reason="the same tote")
    assert client.get("/here/keep", headers={"if-none-match": version}).status_code == 200, "a decision is news"
    assert heard(client) == [{"id": entry["id"], "words": "Decided: not booked. the same tote"}]
    assert heard(floor.phone) == [], "another phone of the shop"
    floor.clock.go(days=15)
    assert heard(client) == [], "by then it is forgotten"


def test_what_was_booked_says_so(clash: tuple[Client, dict[str, Any]]) -> None:
    client, entry = clash
    decide(deed="take")
    assert heard(client) == [{"id": entry["id"], "words": "Decided: it is booked as you recorded it."}]


def test_what_booked_itself_says_so(floor: Floor) -> None:
    floor.moulded(48)
    client = cast.pass_client(floor.moulder)
    client.get("/here/")
    phone = Phone(client, floor.moulder)
    begun = phone.tap(floor.path(30, "load"), floor.clock.now, quantity=24)
    entry = phone.tap(floor.path(30, "count"), floor.clock.now, stage="rest", good=24, load=begun["id"])
    assert phone.send(floor.clock.now, [entry])[0]["state"] == "parked"
    phone.send(floor.clock.now)
    assert Load.objects.filter(uid=begun["id"]).exists()
    assert heard(client) == [{"id": entry["id"], "words": "Booked: what it waited for has come."}]
