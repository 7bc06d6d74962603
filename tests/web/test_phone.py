"""A phone has an id of its own: given with the first pass, the same under every pass, stored with what it tells."""

from __future__ import annotations

import json
import re
from datetime import UTC
from hashlib import sha256
from typing import Any

import pytest
from django.test import Client

from sites.models import PassKind
from tests import cast, factory
from tests.shipping.packing import make_bench
from tests.web.operator.floor import Floor, make_floor, moved
from tests.web.packer.packing_phone import Phone as PackingPhone
from tests.web.queueing import Phone
from traveller.journal.models import Event
from traveller.journal.record import digest
from traveller.web.phone_cookie import PHONE_COOKIE

pytestmark = pytest.mark.django_db
ID = "7K3M9QA7K3M9QA00"


@pytest.fixture
def floor(monkeypatch: pytest.MonkeyPatch) -> Floor:
    made = make_floor()
    monkeypatch.setattr("django.utils.timezone.now", made.clock)
    return made


def phone_of(client: Client) -> str:
    return client.cookies[PHONE_COOKIE].value if PHONE_COOKIE in client.cookies else ""


def reported(kind: str = "counted") -> list[str]:
    return list(Event.objects.filter(kind=kind).order_by("id").values_list("phone", flat=True))


def test_it_comes_with_the_pass_as_a_cookie_that_no_script_reads() -> None:
    _row, token = cast.make_pass(factory.make_site())
    client = Client()
    client.get(f"/pass/{token}")
    assert phone_of(client) == "", "looking at a pass makes no phone"
    client.post(f"/pass/{token}", {"open": "1"})
    kept = client.cookies[PHONE_COOKIE]
    assert re.fullmatch("[0-9A-Z]{16}", kept.value)
    assert kept["httponly"] and kept["samesite"] == "Lax" and kept["max-age"] == 400 * 24 * 3600 and kept["path"] == "/"
    other = Client()
    other.post(f"/pass/{token}", {"open": "1"})
    assert phone_of(other) not in ("", kept.value)


def test_over_https_it_goes_over_https_alone(settings: Any) -> None:
    settings.SESSION_COOKIE_SECURE = True
    _row, token = cast.make_pass(factory.make_site())
    client = Client()
    client.post(f"/pass/{token}", {"open": "1"})
    assert client.cookies[PHONE_COOKIE]["secure"]


def test_a_phone_with_a_pass_of_before_gets_one_at_its_next_page_and_tells_under_it(floor: Floor) -> None:
    client = floor.phone
    assert phone_of(client) == ""
    moved(floor.count(20, 12, shots=6, client=client))
    first = phone_of(client)
    assert re.fullmatch("[0-9A-Z]{16}", first)
    moved(floor.count(20, 7, shots=4, client=client))
    assert reported() == [first, first] and phone_of(client) == first


def test_it_stays_the_same_phone_at_another_shop_and_after_leaving() -> None:
    client = Client()
    ids = set()
    for code in ("moulder", "printer"):
        token = cast.make_pass(factory.make_site(code))[1]
        client.post(f"/pass/{token}", {"open": "1"})
        ids.add(phone_of(client))
        client.get("/person")
        ids.add(phone_of(client))
        client.post("/pass-off")
        client.get("/here/")
        ids.add(phone_of(client))
    assert len(ids) == 1


@pytest.mark.parametrize(
    "value", ["", "x", "7k3m9qa7k3m9qa00", ID + "0", ID[:-1], ID[:-1] + "é", ID + "\\012", " " * 16, "Z" * 4000]
)
def test_what_is_no_id_is_replaced_and_never_stored(floor: Floor, value: str) -> None:
    client = floor.phone
    client.cookies[PHONE_COOKIE] = value
    moved(floor.count(20, 12, shots=6, client=client))
    assert re.fullmatch("[0-9A-Z]{16}", phone_of(client)) and reported() == [phone_of(client)]


def test_an_id_that_is_one_is_kept_as_it_is(floor: Floor) -> None:
    floor.phone.cookies[PHONE_COOKIE] = ID
    moved(floor.count(20, 12, shots=6))
    assert reported() == [ID] and phone_of(floor.phone) == ID


def test_the_queue_tells_under_the_phone_that_sends_and_what_it_set_aside_is_taken_under_it(floor: Floor) -> None:
    floor.phone.cookies[PHONE_COOKIE] = ID
    phone = Phone(floor.phone, floor.moulder)
    phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=10, shots=5)
    assert phone.send(floor.clock.now)[0]["state"] == "stored"
    other = cast.pass_client(floor.moulder, person="Bela")
    other.cookies[PHONE_COOKIE] = "0" * 16
    second = Phone(other, floor.moulder, person="Bela", name="second")
    floor.clock.go(minutes=1)
    second.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=10, shots=5)
    assert second.send(floor.clock.now)[0]["state"] == "parked"
    assert reported("set aside") == ["0" * 16]
    for_review = Event.objects.get(kind="set aside")
    founder = cast.founder_client()
    founder.cookies[PHONE_COOKIE] = "F" * 16
    answer = founder.post(f"/phone-entries/{for_review.pk}", {"news_id": str(factory.uid("taken")), "deed": "take"})
    assert answer.status_code == 302
    assert reported() == [ID, "0" * 16]


def test_what_the_founder_tells_for_a_shop_or_for_herself_is_told_by_no_phone(floor: Floor) -> None:
    founder = cast.founder_client()
    founder.cookies[PHONE_COOKIE] = ID
    cast.on_behalf(founder, floor.moulder)
    moved(floor.count(20, 12, shots=6, client=founder))
    moved(floor.post(f"/batches/{floor.batch.code}/hold", reason="odd colour", client=founder))
    assert Event.objects.exclude(phone="").count() == 0 and reported() == [""]


def test_the_packer_packs_under_the_phone() -> None:
    bench = make_bench()
    client = cast.pass_client(bench.lamps.bench, PassKind.PACKING, "Tomas")
    client.cookies[PHONE_COOKIE] = ID
    phone = PackingPhone(bench, client)
    phone.kit()
    for lot in (bench.lot, bench.leaflets):
        phone.scan(lot, quantity="10")
    phone.pack()
    assert phone.status == 200 and Event.objects.latest("pk").phone == ID


def test_strangers_founders_and_passes_that_are_no_more_get_none() -> None:
    people = cast.make_cast()
    for client in (people.stranger, people.founder, people.revoked):
        for path in ("/", "/here/", "/sign-in", "/orders"):
            client.get(path)
        assert phone_of(client) == ""


def test_it_is_never_left_beside_what_everybody_keeps() -> None:
    client = cast.pass_client(factory.make_site())
    answer = client.get("/manifest.webmanifest")
    assert "public" in answer["Cache-Control"] and PHONE_COOKIE not in answer.cookies
    assert PHONE_COOKIE in client.get("/here/").cookies


def test_what_was_told_before_phones_had_an_id_keeps_its_digest() -> None:
    event = factory.make_event("before")
    said = [
        str(event.uid), event.kind, None, event.actor_kind, event.person, None, False,
        event.happened_at.astimezone(UTC).isoformat(), event.recorded_at.astimezone(UTC).isoformat(), None, None,
        event.data,
    ]  # fmt: skip
    assert event.digest == sha256(json.dumps(said, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
    said.append(ID)
    event.phone = ID
    assert digest(event) == sha256(json.dumps(said, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
