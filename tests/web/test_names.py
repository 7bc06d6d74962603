"""Whoever works at a shop, the pages take the name, show it, and the journal has it: over HTTP, page by page."""

from __future__ import annotations

from html import escape
from typing import Any

import pytest
from django.core import signing
from django.test import Client

from sites.models import PassKind, Person, Site
from sites.people import LETTERS_MAX, written
from tests import cast, factory
from tests.shipping.packing import make_bench
from tests.web.names import NAMES, OTHERS, SAME
from tests.web.operator.floor import html_of, make_floor, moved
from tests.web.packer.packing_phone import Phone as PackingPhone
from tests.web.queueing import Phone
from tests.web.route_table import TABLE
from tests.web.route_world import make_world
from tests.web.test_routes import LET_IN, knock
from traveller.journal.models import Event
from traveller.web.person_cookie import PERSON_COOKIE
from traveller.web.who import PASS_COOKIE

pytestmark = pytest.mark.django_db


def tapped(site: Site, name: str, kind: str = PassKind.OPERATOR, *, new: bool = True) -> Client:
    """A phone whose person went through the door."""
    client = cast.pass_client(site, kind, person="")
    answer = client.post("/person", {"new_name" if new else "name": name})
    assert answer.status_code == 302, name
    return client


def assert_ascii(client: Client) -> None:
    assert client.cookies.output().isascii(), client.cookies.output()
    assert all(morsel.value.isascii() and len(morsel.value) < 2000 for morsel in client.cookies.values())


@pytest.mark.long
def test_somebody_of_any_name_sees_every_page_of_the_shop_and_of_the_packer() -> None:
    world = make_world()
    people, figures = world.people, world.figures()
    walks = (
        ("shop", people.moulder, PassKind.OPERATOR, people.operator),
        ("packer", people.bench, PassKind.PACKING, people.packer),
    )
    for reader, site, kind, known in walks:
        urls = {route: rule.url(route, figures) for route, rule in TABLE.items() if rule.reader == reader}
        named = {route for route, url in urls.items() if _shows(known, url)}
        assert len(named) > 3
        for name in NAMES:
            client = tapped(site, name, kind)
            for route, url in urls.items():
                answer = knock(client, url)
                allowed = LET_IN | ({404} if route in ("here/scan", "pack/scan", "here/photo") else set())
                assert answer.status_code in allowed, (name, route, answer.status_code)
                assert "/person" not in answer.get("Location", ""), (name, route)
                assert route not in named or escape(name) in answer.content.decode(), (name, route)
            assert_ascii(client)


def _shows(client: Client, url: str) -> bool:
    """A page that says whose phone it is."""
    answer = knock(client, url)
    return answer.status_code == 200 and 'class="person"' in answer.content.decode(errors="replace")


def test_what_somebody_of_any_name_tells_stands_in_the_journal_under_that_name(monkeypatch: pytest.MonkeyPatch) -> None:
    floor = make_floor(start=5000)
    monkeypatch.setattr("django.utils.timezone.now", floor.clock)
    for n, name in enumerate(NAMES):
        client = tapped(floor.moulder, name)
        moved(floor.count(20, 12 + n, shots=60, client=client))
        phone = Phone(client, floor.moulder, person=name, name=name)
        phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=50 + n, shots=60)
        assert phone.send(floor.clock.now)[0]["state"] == "stored"
        assert name == written(name) and Person.objects.get(site=floor.moulder, name=name)
    reported = list(Event.objects.filter(kind="counted").order_by("id").values_list("person", flat=True))
    assert reported == [name for name in NAMES for _ in range(2)]
    founder = cast.founder_client()
    batch, site = html_of(founder.get(f"/batches/{floor.batch.code}")), html_of(founder.get("/sites/moulder"))
    assert all(escape(name) in batch and escape(name) in site for name in NAMES)
    paper: Any = founder.get(f"/batches/{floor.batch.code}/record")
    assert paper.status_code == 200 and paper.content.startswith(b"%PDF")


@pytest.mark.long
def test_somebody_of_any_name_packs_a_carton() -> None:
    bench = make_bench()
    for name in NAMES:
        phone = PackingPhone(bench, tapped(bench.lamps.bench, name, PassKind.PACKING))
        phone.kit()
        for lot in (bench.lot, bench.leaflets):
            phone.scan(lot, quantity="1")
        phone.pack()
        assert phone.status == 200 and phone.carton().packer == name, phone.text
        assert Event.objects.latest("pk").person == name and name in phone.seen


@pytest.mark.parametrize("spellings", SAME, ids=lambda names: names[0])
def test_one_person_is_one_however_the_name_is_typed(spellings: tuple[str, ...]) -> None:
    site = factory.make_site()
    for typed in spellings:
        for new in (True, False):
            client = tapped(site, typed, new=new)
            assert written(spellings[0]) in client.get("/person").content.decode().replace("&#x27;", "'")
    assert [person.name for person in Person.objects.filter(site=site)] == [written(spellings[0])]


@pytest.mark.parametrize(("one", "other"), OTHERS)
def test_an_accent_more_or_less_is_another_person(one: str, other: str) -> None:
    site = factory.make_site()
    for typed in (one, other):
        tapped(site, typed)
    assert Person.objects.filter(site=site).count() == 2


def test_a_phones_queue_tells_a_person_in_the_spelling_of_the_site(monkeypatch: pytest.MonkeyPatch) -> None:
    floor = make_floor()
    monkeypatch.setattr("django.utils.timezone.now", floor.clock)
    client = tapped(floor.moulder, "Weiß")
    tapped(floor.moulder, "Işık")
    phone = Phone(client, floor.moulder)
    for n, name in enumerate(("WEISS", "", "IŞIK", "Bela")):
        phone.person = name
        phone.tap(floor.path(20, "count"), floor.clock.now, stage="rest", good=7 + n, shots=4)
    assert {answer["state"] for answer in phone.send(floor.clock.now)} == {"stored"}
    reported = Event.objects.filter(kind="counted").order_by("id").values_list("person", flat=True)
    assert list(reported) == ["Weiß", "Weiß", "Işık", "Bela"]


def test_a_long_name_is_cut_by_letters_and_a_name_of_nothing_is_none() -> None:
    assert written("🏮" * 90) == "🏮" * LETTERS_MAX
    assert written(" \u202e\u200f Ann\u2066\x07 ") == "Ann"
    for typed in ("", " ", "\u200d", "\u202e", "\x00\x1b"):
        assert written(typed) == ""
    client = cast.pass_client(factory.make_site(), person="")
    assert client.post("/person", {"new_name": "\u200d\u200f"}).status_code == 422


def test_initials_of_letters_that_become_several_fit_their_column() -> None:
    site = factory.make_site()
    tapped(site, "ﬃx ﬃy ﬃz ßa ŉb")
    assert Person.objects.get(site=site).initials == "FFIF"


# --- Cookies ----------------------------------------------------------------------------------------------------

MANGLED = [
    "", '""', "\\000\\000", '"\\000abcdefgh"', "x", "张伟", "José", "a:b", "a:b:c", ":::", "%", "%ff%fe:1:2", "\x7f",
    "0" * 3000,
]  # fmt: skip
COOKIES = [PERSON_COOKIE, "sessionid", "csrftoken", "django_language", "units", "messages", "phone", "told", "foreign"]


@pytest.mark.parametrize("value", MANGLED)
def test_no_cookie_beside_it_costs_the_pass(value: str) -> None:
    site = factory.make_site()
    for name in COOKIES:
        client = cast.pass_client(site, person="Ines")
        pass_and_person = {key: client.cookies[key].value for key in (PASS_COOKIE, PERSON_COOKIE)}
        raw = "; ".join(f"{key}={text}" for key, text in {**pass_and_person, name: value}.items())
        # As the header comes in: bytes, which WSGI shows as Latin-1.
        bare = Client()
        answer = bare.get("/here/", HTTP_COOKIE=raw.encode().decode("latin-1"))
        if name == PERSON_COOKIE:
            assert answer.status_code == 302 and answer["Location"].startswith("/person"), (name, value)
            assert bare.get("/person", HTTP_COOKIE=raw.encode().decode("latin-1")).status_code == 200
        else:
            assert answer.status_code == 200 and "Ines" in answer.content.decode(), (name, value)


@pytest.mark.parametrize("value", MANGLED)
def test_a_pass_that_is_mangled_is_none(value: str) -> None:
    factory.make_site()
    raw = f"{PASS_COOKIE}={value}; {PERSON_COOKIE}=x"
    assert Client().get("/here/", HTTP_COOKIE=raw.encode().decode("latin-1")).status_code == 404
    assert Client().get("/sign-in", HTTP_COOKIE=raw.encode().decode("latin-1")).status_code == 200


def test_a_name_that_an_earlier_release_wrote_is_read() -> None:
    site = factory.make_site()
    Person.objects.create(site=site, name="José", initials="J")
    client = cast.pass_client(site, person="")
    client.cookies[PERSON_COOKIE] = signing.get_cookie_signer(salt=PERSON_COOKIE).sign("José")
    assert "José" in client.get("/here/").content.decode()
